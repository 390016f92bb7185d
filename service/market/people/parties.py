"""The parties: growers and breweries, and the place each is at."""

import math

from service.errors import InvalidRequest
from service.facts import Fact, replace

# Mean radius of the Earth, IUGG (Moritz 2000, Geodetic Reference System 1980).
EARTH_RADIUS_KM = 6371.0088


class Party(Fact, frozen=True, kw_only=True):
    """A grower or a brewery."""

    kind: str
    code: str
    name: str
    email: str | None
    country: str
    locality: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float | None = None
    shows_consistency: bool = False

    @property
    def unit_vector(self) -> tuple[float, float, float]:
        """The place as a unit vector."""
        return unit_vector(latitude_deg=self.latitude_deg, longitude_deg=self.longitude_deg)


def accept_party(party: Party) -> Party:
    """Let a party into the books.

    Raises:
        InvalidRequest: a brewery would show how alike its lots are; it has none.

    """
    if party.kind == "brewery" and party.shows_consistency:
        text = "a grower shows how alike its lots are; a brewery leaves this out"
        raise InvalidRequest(text, errors=[{"pointer": "#/shows_consistency", "detail": text}])
    return party


def as_seen_by_strangers(party: Party) -> Party:
    """Blur the place to a tenth of a degree and hide the address: small farms keep their privacy."""
    return replace(
        party,
        email=None,
        latitude_deg=round(party.latitude_deg, 1),
        longitude_deg=round(party.longitude_deg, 1),
        elevation_m=None,
    )


def unit_vector(*, latitude_deg: float, longitude_deg: float) -> tuple[float, float, float]:
    """Turn a place into a unit vector.

    >>> unit_vector(latitude_deg=0.0, longitude_deg=0.0)
    (1.0, 0.0, 0.0)

    """
    latitude, longitude = math.radians(latitude_deg), math.radians(longitude_deg)
    flat = math.cos(latitude)
    return flat * math.cos(longitude), flat * math.sin(longitude), math.sin(latitude)


def distance_km(a: tuple[float, float, float], b: tuple[float, float, float]) -> float:
    """Great-circle distance between two unit vectors; exact for near places too.

    >>> round(distance_km((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)), 1)
    10007.6

    """
    return 2 * EARTH_RADIUS_KM * math.asin(min(1.0, math.dist(a, b) / 2))


def chord_squared(*, within_km: float) -> float:
    """The square of the chord that spans a great-circle distance; what a database can compare."""
    half = min(within_km / (2 * EARTH_RADIUS_KM), math.pi / 2)
    return (2 * math.sin(half)) ** 2
