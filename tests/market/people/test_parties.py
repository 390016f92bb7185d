"""Places: distances agree with a geodesic library, strangers see them blurred."""

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from service.market.people.parties import as_seen_by_strangers, chord_squared, distance_km, unit_vector
from tests.factories import PartyFactory

LATITUDES, LONGITUDES = st.floats(-89, 89), st.floats(-180, 180)


@given(LATITUDES, LONGITUDES, LATITUDES, LONGITUDES)
def test_great_circle_distance_is_near_the_geodesic(a: float, b: float, c: float, d: float) -> None:
    # geographiclib (Karney 2013) on WGS 84; a sphere differs by at most about 0.56 %.
    ours = distance_km(
        unit_vector(latitude_deg=a, longitude_deg=b), unit_vector(latitude_deg=c, longitude_deg=d)
    )
    theirs = Geodesic.WGS84.Inverse(a, b, c, d)["s12"] / 1000

    assert ours == pytest.approx(theirs, rel=0.006, abs=0.001)


@given(LATITUDES, LONGITUDES, st.floats(1, 15_000))
def test_a_chord_limit_is_a_distance_limit(latitude: float, longitude: float, within_km: float) -> None:
    here, there = (
        unit_vector(latitude_deg=45, longitude_deg=-64),
        unit_vector(latitude_deg=latitude, longitude_deg=longitude),
    )
    square = sum((x - y) ** 2 for x, y in zip(here, there, strict=True))
    km = distance_km(here, there)

    if abs(km - within_km) > 1e-3:
        assert (square <= chord_squared(within_km=within_km)) == (km <= within_km)


def test_strangers_see_a_tenth_of_a_degree_and_no_address() -> None:
    seen = as_seen_by_strangers(PartyFactory(latitude_deg=44.9512, longitude_deg=-64.4491))

    assert (seen.latitude_deg, seen.longitude_deg, seen.email, seen.elevation_m) == (45.0, -64.4, None, None)
