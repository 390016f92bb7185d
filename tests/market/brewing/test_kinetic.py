"""How much of the alpha is used by the rates of isomerisation, and what is recovered of it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.market.brewing.brews import Brew, Kettle, Recoveries
from service.market.brewing.kinetic import KINETIC, boil_c, boil_minutes, recoveries, uses_of_brewhouse
from service.market.brewing.methods import utilizations
from service.market.brewing.tinseth import TINSETH
from service.reference.assumptions import get_assumption
from service.science.isomerization import iso_alpha_fraction
from tests.market.brewing.brew_cases import a_brew, an_addition


def kinetic(*additions: object, **told: object) -> list[float]:
    """The yields of the kettle alone."""
    return [used.percent for used in uses_of_brewhouse(a_brew(*additions, **told))]  # type: ignore[arg-type]


def percent(brew: Brew) -> float:
    used = utilizations(brew, KINETIC)[0].percent
    assert used is not None
    return used


def test_kinetic_boil_is_the_closed_form_at_the_boiling_point() -> None:
    brew = a_brew(elevation_m=1524.0)
    expected = 100 * iso_alpha_fraction(temperature_c=boil_c(brew), minutes=60.0)

    assert kinetic(elevation_m=1524.0) == pytest.approx([expected], rel=1e-9)


def test_an_hour_at_100_c_yields_what_the_rates_give() -> None:
    # 0.4759 by the two published rates (Malowicki & Shellhammer 2005), derived; the standard atmosphere boils
    # water a fortieth of a degree cooler.
    assert kinetic(gravity_sg=1.0) == pytest.approx([47.59], abs=0.1)


def test_a_kettle_on_a_mountain_boils_cooler_and_yields_less() -> None:
    low, high = a_brew(elevation_m=0.0), a_brew(elevation_m=2438.0)

    # Published table: water boils at 91.9 °C at 2438 m; wort a little hotter.
    assert boil_c(high) == pytest.approx(91.9 + 0.2, abs=0.25)
    assert boil_c(low) > boil_c(high)
    assert kinetic(elevation_m=0.0) > kinetic(elevation_m=2438.0)


def test_boiled_hops_go_on_isomerising_in_the_whirlpool() -> None:
    stand = an_addition(at="whirlpool", minutes=30.0, temperature_c=90.0)

    alone, with_stand = kinetic(an_addition(minutes=10.0)), kinetic(an_addition(minutes=10.0), stand)

    assert with_stand[0] > alone[0]


def test_whirlpool_additions_share_one_vessel() -> None:
    early = an_addition(at="whirlpool", minutes=30.0, temperature_c=90.0)
    late = an_addition(at="whirlpool", minutes=10.0, temperature_c=80.0)

    both = kinetic(early, late)

    # Ten of the early hops' thirty minutes are spent at the later, lower temperature.
    assert both[0] < kinetic(early)[0]
    assert both[1] == pytest.approx(kinetic(late)[0])


def test_readings_of_a_steady_stand_equal_the_hold() -> None:
    stand = an_addition(at="whirlpool", minutes=20.0, temperature_c=85.0)
    read = Kettle(at_minutes=(0.0, 7.0, 20.0), temperatures_c=(85.0, 85.0, 85.0))

    assert kinetic(stand, kettle=read) == pytest.approx(kinetic(stand), rel=1e-7)


def test_hops_thrown_in_at_the_end_give_nothing() -> None:
    read = Kettle(at_minutes=(0.0, 0.1, 0.3), temperatures_c=(98.0, 97.0, 96.0))

    assert kinetic(an_addition(minutes=0.0)) == [0.0]
    assert kinetic(an_addition(at="whirlpool", minutes=0.0, temperature_c=90.0)) == [0.0]
    assert kinetic(an_addition(at="whirlpool", minutes=0.0), kettle=read) == [0.0]


@given(st.lists(st.floats(0, 120), min_size=1, max_size=5), st.floats(0, 3000))
def test_kinetic_yield_stays_between_nothing_and_all(minutes: list[float], elevation_m: float) -> None:
    stands = [an_addition(at="whirlpool", minutes=m / 3, temperature_c=60 + m / 4) for m in minutes]
    found = kinetic(*(an_addition(minutes=m) for m in minutes), *stands, elevation_m=elevation_m)

    assert all(used is not None and 0 <= used <= 64 for used in found)


def test_the_kettle_boils_as_long_as_its_first_hops_unless_told() -> None:
    additions = (an_addition(minutes=15.0), an_addition(at="first_wort", minutes=75.0))

    assert boil_minutes(a_brew(*additions)) == 75.0
    assert boil_minutes(a_brew(*additions, kettle=Kettle(boil_minutes=90.0))) == 90.0
    assert boil_minutes(a_brew(an_addition(at="dry_hop"))) == 0.0


def test_a_longer_boil_changes_nothing_for_hops_counted_from_its_end() -> None:
    longer = Kettle(boil_minutes=90.0)

    assert kinetic(an_addition(minutes=30.0), kettle=longer) == pytest.approx(
        kinetic(an_addition(minutes=30.0)), rel=1e-9
    )


@pytest.mark.parametrize("at", ["mash", "dry_hop"])
def test_mash_and_dry_hops_are_null_with_the_reason(at: str) -> None:
    (used,) = utilizations(a_brew(an_addition(at=at)), KINETIC)

    assert used.percent is None
    assert used.reason


def test_default_recoveries_give_what_was_found_in_beer() -> None:
    # Justus 2018: 44.0 % in wort after 60 minutes, 33.7 % lost in the cellar, that is 29.2 % in beer; Kappler 2011:
    # about 30 %.
    assert percent(a_brew(gravity_sg=1.050)) == pytest.approx(29.6, abs=0.6)


def test_what_was_found_in_wort_lies_inside_the_interval() -> None:
    # Justus 2018: 44.0 % in wort after 60 minutes, commercial volumes.
    kettle = recoveries(a_brew())["kettle_to_wort_percent"]
    rates = get_assumption("kinetic_model_spread_ratio")
    (made,) = kinetic()

    assert made * kettle.low_percent / 100 * rates.low < 44.0 < made * kettle.high_percent / 100 * rates.high


@given(
    st.floats(1.0, 1.149),
    st.floats(0.001, 0.1),
    st.sampled_from(["boil", "first_wort", "whirlpool"]),
    st.floats(1, 120),
    st.floats(0, 3000),
)
def test_utilization_falls_with_gravity(
    gravity_sg: float, more: float, at: str, minutes: float, elevation_m: float
) -> None:
    # A stronger wort boils hotter, which alone would raise it; trub binds more (McMurrough, quoted).
    hops = an_addition(at=at, minutes=minutes, temperature_c=95.0 if at == "whirlpool" else None)
    thin, thick = (
        a_brew(hops, gravity_sg=gravity, elevation_m=elevation_m)
        for gravity in (gravity_sg, min(gravity_sg + more, 1.15))
    )

    assert percent(thick) < percent(thin)


@pytest.mark.parametrize("gravity_sg", [1.04, 1.06, 1.08, 1.10, 1.12])
@pytest.mark.parametrize("minutes", [60.0, 90.0])
def test_an_imperial_stout_stays_under_twice_the_published_rule(gravity_sg: float, minutes: float) -> None:
    # Tinseth's rule is fitted to beer; kinetics with its usual losses must not run away from it.
    brew = a_brew(an_addition(minutes=minutes), gravity_sg=gravity_sg)
    (rule,) = utilizations(brew, TINSETH)

    assert percent(brew) < 2 * (rule.percent or 0.0)
    assert not any("Tinseth" in caution for caution in utilizations(brew, KINETIC)[0].cautions)


@given(
    st.floats(1.0, 1.15),
    st.floats(1, 240),
    st.sampled_from([None, 70.0, 100.0]),
    st.booleans(),
)
def test_over_twice_the_published_rule_comes_with_the_reason(
    gravity_sg: float, minutes: float, own: float | None, stands: bool
) -> None:
    stand = [an_addition(at="whirlpool", minutes=30.0, temperature_c=95.0)] if stands else []
    brew = a_brew(
        an_addition(minutes=minutes),
        *stand,
        gravity_sg=gravity_sg,
        recoveries=Recoveries(kettle_to_wort_percent=own, wort_to_beer_percent=own),
    )
    rule, used = utilizations(brew, TINSETH)[0], utilizations(brew, KINETIC)[0]

    says = [caution for caution in used.cautions if "published rule of Tinseth" in caution]

    assert bool(says) == ((used.percent or 0.0) > 2 * (rule.percent or 0.0))
    assert all("because" in caution or ": " in caution for caution in says)


def test_own_recoveries_are_taken_as_they_stand() -> None:
    told = Recoveries(kettle_to_wort_percent=90.0, wort_to_beer_percent=80.0)
    (default,) = utilizations(a_brew(), KINETIC)
    (own,) = utilizations(a_brew(recoveries=told), KINETIC)

    assert own.scatter["kettle_to_wort"].below_log == own.scatter["wort_to_beer"].above_log == 0
    assert default.scatter["kettle_to_wort"].below_log > 0
    assert own.percent == pytest.approx(kinetic()[0] * 0.72)
    assert not recoveries(a_brew(recoveries=told))["kettle_to_wort_percent"].is_default


def test_the_published_extremes_are_not_the_interval() -> None:
    # 7 to 73 % held back by trub and hops (quoted): a collection's ends, not a 5th and a 95th percentile.
    kettle, beer = recoveries(a_brew()).values()

    assert (kettle.published_low_percent, kettle.published_high_percent) == (27.0, 93.0)
    assert kettle.published_low_percent < kettle.low_percent < kettle.percent < kettle.high_percent
    assert (beer.low_percent, beer.high_percent) != (
        beer.published_low_percent,
        beer.published_high_percent,
    )
