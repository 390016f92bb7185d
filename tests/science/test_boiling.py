import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from iapws import IAPWS97

from service.errors import OutOfRange
from service.science.boiling import boiling_point_c, pressure_pa, water_boiling_point_c, wort_elevation_c


@pytest.mark.parametrize("pressure", [1e3, 5e3, 2e4, 5.4e4, 84_307, 1e5, 101_325, 2e5, 1e6], ids=str)
def test_water_boils_where_an_independent_library_says(pressure):
    # iapws, IAPWS-IF97 region 4.
    assert water_boiling_point_c(pressure_pa=pressure) == pytest.approx(
        IAPWS97(P=pressure / 1e6, x=0).T - 273.15, abs=1e-8
    )


@pytest.mark.parametrize("elevation_m", [-500, 0, 800, 2500, 5000], ids=str)
def test_pressure_follows_the_definition_of_the_standard_atmosphere(elevation_m):
    # ISO 2533:1975: T0 = 288.15 K, lapse 6.5 K/km, g = 9.80665 m/s2, R = 287.05287 J/(kg K); below 11 km.
    defined = 101_325 * (1 - 0.0065 * elevation_m / 288.15) ** (9.80665 / (287.05287 * 0.0065))

    assert pressure_pa(elevation_m=elevation_m) == pytest.approx(defined, rel=5e-6)


@settings(max_examples=60)
@given(st.floats(-500, 5000), st.floats(-500, 5000), st.floats(0, 40), st.floats(0, 40))
def test_kettles_boil_cooler_up_high_and_hotter_with_more_extract(a, b, thin, strong):
    low, high = sorted((a, b))
    thin, strong = sorted((thin, strong))

    assert boiling_point_c(elevation_m=high) <= boiling_point_c(elevation_m=low)
    assert boiling_point_c(elevation_m=low, gravity_plato=thin) <= boiling_point_c(
        elevation_m=low, gravity_plato=strong
    )


def test_boiling_point_adds_the_rise_by_the_extract():
    rise = wort_elevation_c(gravity_plato=12)

    assert boiling_point_c(elevation_m=0, gravity_plato=12) == pytest.approx(99.974 + rise, abs=0.001)


@pytest.mark.parametrize("wrong", [-501, 5001, math.nan, "0", True], ids=str)
def test_an_elevation_outside_the_range_is_refused(wrong):
    for formula in (boiling_point_c, pressure_pa):
        with pytest.raises(OutOfRange, match="elevation_m must be -500 to 5000 m"):
            formula(elevation_m=wrong)


def test_pressure_and_extract_outside_their_range_are_refused():
    with pytest.raises(OutOfRange, match="pressure_pa must be 1000 to 1e\\+06 Pa, not 10"):
        water_boiling_point_c(pressure_pa=10)
    with pytest.raises(OutOfRange, match="gravity_plato must be 0 to 40 °P, not 41"):
        boiling_point_c(elevation_m=0, gravity_plato=41)
