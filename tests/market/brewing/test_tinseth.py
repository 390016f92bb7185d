"""How much of the alpha is used by the published rule, and in wort that does not boil at sea level."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.market.brewing.brews import Brew
from service.market.brewing.methods import EXTRAPOLATED, utilizations
from service.market.brewing.tinseth import TINSETH
from service.reference.assumptions import get_assumption
from service.science.bitterness import plato_from_sg
from service.science.boiling import boiling_point_c
from service.science.isomerization import relative_isomerization_rate
from tests.market.brewing.brew_cases import a_brew, an_addition


def percents(brew: Brew) -> list[float]:
    return [used.percent or 0.0 for used in utilizations(brew, TINSETH)]


def test_boil_is_the_published_table() -> None:
    # Published table by minute and gravity (J. Palmer, How to Brew, quoted): 0.252, 0.231, 0.194, 0.087.
    brew = a_brew(
        an_addition(gravity_sg=1.040, minutes=60.0),
        an_addition(gravity_sg=1.050, minutes=60.0),
        an_addition(gravity_sg=1.040, minutes=30.0),
        an_addition(gravity_sg=1.080, minutes=15.0),
    )

    assert percents(brew) == pytest.approx([25.2, 23.1, 19.4, 8.7], abs=0.05)


def test_first_wort_counts_as_boil_with_a_wider_interval() -> None:
    first, boil = utilizations(a_brew(an_addition(at="first_wort"), an_addition()), TINSETH)

    assert first.percent == boil.percent
    assert set(first.scatter) - set(boil.scatter) == {"first_wort_factor"}


def test_whirlpool_is_the_boil_slowed_like_the_isomerisation() -> None:
    # k1(95)/k1(100) = 0.649, derived from Malowicki & Shellhammer 2005; this wort boils at 100.2 °C.
    stand = an_addition(at="whirlpool", minutes=20.0, temperature_c=95.0)
    brew = a_brew(an_addition(minutes=20.0), stand)

    boil, whirlpool = percents(brew)

    assert whirlpool == pytest.approx(boil * 0.649, rel=0.02)
    assert utilizations(brew, TINSETH)[1].cautions == ()


def test_whirlpool_under_90_c_is_flagged_as_extrapolated() -> None:
    stand = an_addition(at="whirlpool", minutes=20.0, temperature_c=85.0)

    assert utilizations(a_brew(stand), TINSETH)[0].cautions == (EXTRAPOLATED,)


@given(st.floats(0, 3500), st.floats(1, 240), st.floats(1.0, 1.12))
def test_boil_and_whirlpool_of_one_temperature_use_the_same(
    elevation_m: float, minutes: float, gravity_sg: float
) -> None:
    boils_c = boiling_point_c(elevation_m=elevation_m, gravity_plato=plato_from_sg(gravity_sg=gravity_sg))
    stand = an_addition(at="whirlpool", minutes=minutes, temperature_c=boils_c)

    boil, whirlpool = percents(
        a_brew(an_addition(minutes=minutes), stand, elevation_m=elevation_m, gravity_sg=gravity_sg)
    )

    assert boil == pytest.approx(whirlpool)


def test_a_kettle_on_a_mountain_uses_less_and_one_at_sea_level_as_published() -> None:
    # Water boils at 94.9 °C at 1524 m (published table); the rates are Malowicki & Shellhammer's, 2005.
    slowed = relative_isomerization_rate(temperature_c=94.9)

    assert percents(a_brew(elevation_m=0.0)) == pytest.approx(percents(a_brew()))
    assert percents(a_brew(elevation_m=1524.0))[0] / percents(a_brew())[0] == pytest.approx(slowed, abs=0.01)


@pytest.mark.parametrize("at", ["mash", "dry_hop"])
def test_mash_and_dry_hops_are_null_with_the_reason(at: str) -> None:
    (used,) = utilizations(a_brew(an_addition(at=at)), TINSETH)

    assert used.percent is None
    assert used.reason


def test_wet_hops_count_as_was_found_of_them() -> None:
    # Justus 2018: 8.0 % of the alpha of wet hops in wort, 29.9 % of that of whirlpool hops, 44.0 % of an hour's boil.
    brew = a_brew(an_addition(form="wet_hop"), an_addition(form="pellet"))
    wet, dry = percents(brew)

    assert wet == pytest.approx(dry * 8.0 / 29.9, rel=0.02)
    assert get_assumption("wet_hop_utilization_ratio").low <= 8.0 / 44.0
    assert "wet_hop_utilization_ratio" in utilizations(brew, TINSETH)[0].scatter
