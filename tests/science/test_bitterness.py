import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.bitterness import (
    ibu,
    ibu_curve,
    mass_g_for_ibu,
    plato_from_sg,
    sg_from_plato,
    tinseth_utilization_percent,
    tinseth_utilization_percent_curve,
    tinseth_whirlpool_utilization_percent,
)
from service.science.boiling import boiling_point_c

GRAVITIES = st.floats(1, 1.15)
MINUTES = st.floats(0, 240)


@settings(max_examples=60)
@given(GRAVITIES, GRAVITIES, MINUTES, MINUTES)
def test_utilization_rises_with_time_and_falls_with_gravity(a, b, c, d):
    light, heavy = sorted((a, b))
    short, long = sorted((c, d))

    best = tinseth_utilization_percent(gravity_sg=light, minutes=long)
    assert best >= tinseth_utilization_percent(gravity_sg=light, minutes=short)
    assert best >= tinseth_utilization_percent(gravity_sg=heavy, minutes=long)


@settings(max_examples=40)
@given(st.lists(st.tuples(GRAVITIES, MINUTES), min_size=1, max_size=20))
def test_the_curves_give_the_scalar_numbers(pairs):
    gravity, minutes = (np.array(column) for column in zip(*pairs, strict=True))

    used = tinseth_utilization_percent_curve(gravity_sg=gravity, minutes=minutes)
    bitter = ibu_curve(
        utilization_percent=used,
        alpha_percent=np.full_like(used, 5.4),
        mass_g=np.full_like(used, 900.0),
        volume_l=np.full_like(used, 1000.0),
    )

    for place, (one_gravity, one_minutes) in enumerate(pairs):
        scalar = tinseth_utilization_percent(gravity_sg=one_gravity, minutes=one_minutes)
        assert used[place] == pytest.approx(scalar, rel=1e-12, abs=1e-300)
        one = ibu(utilization_percent=scalar, alpha_percent=5.4, mass_g=900, volume_l=1000)
        assert bitter[place] == pytest.approx(one, rel=1e-12, abs=1e-300)


def test_a_curve_names_the_first_figure_that_is_out_of_range():
    with pytest.raises(OutOfRange, match="minutes must be 0 to 240 min, not 241"):
        tinseth_utilization_percent_curve(gravity_sg=np.array([1.05, 1.05]), minutes=np.array([60.0, 241]))
    with pytest.raises(OutOfRange, match=r"gravity_sg must be 1 to 1\.15, not nan"):
        tinseth_utilization_percent_curve(gravity_sg=np.array([math.nan]), minutes=np.array([60.0]))


@settings(max_examples=40)
@given(GRAVITIES, MINUTES, st.floats(60, 99.9), st.floats(60, 99.9))
def test_a_cooler_whirlpool_uses_less_and_none_more_than_the_boil(gravity, minutes, a, b):
    cool, hot = sorted((a, b))
    boil = tinseth_utilization_percent(gravity_sg=gravity, minutes=minutes)

    warm = tinseth_whirlpool_utilization_percent(gravity_sg=gravity, minutes=minutes, temperature_c=hot)

    assert warm <= boil * (1 + 1e-12)
    assert warm >= tinseth_whirlpool_utilization_percent(
        gravity_sg=gravity, minutes=minutes, temperature_c=cool
    )


@settings(max_examples=40)
@given(GRAVITIES, MINUTES)
def test_a_whirlpool_as_hot_as_the_boil_is_the_boil(gravity, minutes):
    # The convention: k1(T)/k1(T0) = 1 where the wort is as hot as it boils at sea level.
    boils_at_c = boiling_point_c(elevation_m=0, gravity_plato=plato_from_sg(gravity_sg=gravity))

    whirlpool = tinseth_whirlpool_utilization_percent(
        gravity_sg=gravity, minutes=minutes, temperature_c=boils_at_c
    )

    assert whirlpool == pytest.approx(tinseth_utilization_percent(gravity_sg=gravity, minutes=minutes))


@settings(max_examples=60)
@given(st.floats(0, 1000), st.floats(0.01, 100), st.floats(0.01, 100), st.floats(0.1, 1e4))
def test_the_mass_for_a_bitterness_gives_that_bitterness(wanted, used, alpha, volume):
    mass = mass_g_for_ibu(wanted_ibu=wanted, utilization_percent=used, alpha_percent=alpha, volume_l=volume)

    if mass <= 1e7:
        given = ibu(utilization_percent=used, alpha_percent=alpha, mass_g=mass, volume_l=volume)
        assert given == pytest.approx(wanted, rel=1e-12, abs=1e-300)


@settings(max_examples=60)
@given(st.floats(1, 1.17))
def test_gravity_survives_the_round_trip_through_plato(gravity):
    assert sg_from_plato(gravity_plato=plato_from_sg(gravity_sg=gravity)) == pytest.approx(gravity, abs=1e-12)


@pytest.mark.parametrize("gravity", [1.010, 1.020, 1.040, 1.050, 1.060, 1.080], ids=str)
def test_plato_agrees_with_the_brewing_chemists_tables(gravity):
    # J. Buhl 2023, Physical Equations Relating Extract and Relative Density: 260.4 (1 - 1/SG) stays within
    # 0.023 °P of the ASBC tables, root mean square.
    assert plato_from_sg(gravity_sg=gravity) == pytest.approx(260.4 * (1 - 1 / gravity), abs=0.05)


@pytest.mark.parametrize("gravity", [1.0, 1.03, 1.06, 1.09, 1.12, 1.15, 1.17], ids=str)
def test_plato_agrees_with_another_fit_to_the_sugar_table(gravity):
    # Cubic fit to the table of NBS Circular C440 (1942), 0.0009 % root mean square, as quoted with it.
    cubic = 182.46007 * gravity**3 - 775.68212 * gravity**2 + 1262.7794 * gravity - 669.56218

    assert plato_from_sg(gravity_sg=gravity) == pytest.approx(cubic, abs=0.006)


def test_water_has_no_extract():
    assert plato_from_sg(gravity_sg=1.0) == 0
    assert sg_from_plato(gravity_plato=0) == pytest.approx(1.0, abs=1e-15)


@pytest.mark.parametrize(
    ("formula", "given", "named"),
    [
        (tinseth_utilization_percent, {"gravity_sg": 0.99, "minutes": 60}, "gravity_sg"),
        (tinseth_utilization_percent, {"gravity_sg": 1.151, "minutes": 60}, "gravity_sg"),
        (tinseth_utilization_percent, {"gravity_sg": "1.05", "minutes": 60}, "gravity_sg"),
        (tinseth_utilization_percent, {"gravity_sg": 1.05, "minutes": math.nan}, "minutes"),
        (
            tinseth_whirlpool_utilization_percent,
            {"gravity_sg": 1.05, "minutes": 20, "temperature_c": 55},
            "temperature_c",
        ),
        (
            ibu,
            {"utilization_percent": 101, "alpha_percent": 5, "mass_g": 1, "volume_l": 1},
            "utilization_percent",
        ),
        (ibu, {"utilization_percent": 20, "alpha_percent": -1, "mass_g": 1, "volume_l": 1}, "alpha_percent"),
        (ibu, {"utilization_percent": 20, "alpha_percent": 5, "mass_g": -1, "volume_l": 1}, "mass_g"),
        (ibu, {"utilization_percent": 20, "alpha_percent": 5, "mass_g": 1, "volume_l": 0}, "volume_l"),
        (
            mass_g_for_ibu,
            {"wanted_ibu": 10, "utilization_percent": 0, "alpha_percent": 5, "volume_l": 1},
            "utilization_percent",
        ),
        (plato_from_sg, {"gravity_sg": 1.2}, "gravity_sg"),
        (sg_from_plato, {"gravity_plato": -1}, "gravity_plato"),
    ],
)
def test_a_figure_outside_its_range_is_refused(formula, given, named):
    with pytest.raises(OutOfRange) as refused:
        formula(**given)

    assert refused.value.facts["name"] == named
