"""How much of the alpha is used: by the published rule, by kinetics, by a brewery's own brews."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.market.brewing.brews import Kettle, Recoveries
from service.market.brewing.utilizations import (
    ALL_RECOVERED,
    EXTRAPOLATED,
    boil_c,
    boil_minutes,
    default_kettle_to_wort_percent,
    kettle_to_wort,
    kinetic_utilizations,
    own_utilizations,
    tinseth_utilizations,
    wort_to_beer,
)
from service.science.brewhouse import BrewhouseFit
from service.science.isomerization import iso_alpha_fraction, relative_isomerization_rate
from tests.market.brewing.brew_cases import a_brew, an_addition


def percents(found: object) -> list[float | None]:
    return [used.percent for used in found]  # type: ignore[attr-defined]


def kinetic(*additions: object, **told: object) -> list[float | None]:
    brew = a_brew(*additions, **told)  # type: ignore[arg-type]
    return percents(kinetic_utilizations(brew, kettle_to_wort=ALL_RECOVERED, wort_to_beer=ALL_RECOVERED))


def test_boil_is_the_published_table() -> None:
    # Published table by minute and gravity (J. Palmer, How to Brew, quoted): 0.252, 0.231, 0.194, 0.087.
    brew = a_brew(
        an_addition(gravity_sg=1.040, minutes=60.0),
        an_addition(gravity_sg=1.050, minutes=60.0),
        an_addition(gravity_sg=1.040, minutes=30.0),
        an_addition(gravity_sg=1.080, minutes=15.0),
    )

    assert percents(tinseth_utilizations(brew)) == pytest.approx([25.2, 23.1, 19.4, 8.7], abs=0.05)


def test_first_wort_counts_as_boil_with_a_wider_interval() -> None:
    first, boil = tinseth_utilizations(a_brew(an_addition(at="first_wort"), an_addition()))

    assert first.percent == boil.percent
    assert first.spread.above_log > boil.spread.above_log


def test_whirlpool_is_the_boil_slowed_like_the_isomerisation() -> None:
    # k1(95)/k1(100) = 0.649, derived from Malowicki & Shellhammer 2005.
    boil, stand = tinseth_utilizations(
        a_brew(an_addition(minutes=20.0), an_addition(at="whirlpool", minutes=20.0, temperature_c=95.0))
    )

    assert stand.percent == pytest.approx(boil.percent * 0.649, rel=1e-3)  # type: ignore[operator]
    assert stand.cautions == ()


def test_whirlpool_under_90_c_is_flagged_as_extrapolated() -> None:
    (stand,) = tinseth_utilizations(a_brew(an_addition(at="whirlpool", minutes=20.0, temperature_c=85.0)))

    assert stand.cautions == (EXTRAPOLATED,)


@pytest.mark.parametrize("at", ["mash", "dry_hop"])
def test_mash_and_dry_hops_are_null_with_the_reason(at: str) -> None:
    brew = a_brew(an_addition(at=at))

    for (used,) in (
        tinseth_utilizations(brew),
        kinetic_utilizations(brew, kettle_to_wort=ALL_RECOVERED, wort_to_beer=ALL_RECOVERED),
    ):
        assert used.percent is None
        assert used.reason


def test_wet_hops_have_a_wider_interval() -> None:
    wet, dry = tinseth_utilizations(a_brew(an_addition(form="wet_hop"), an_addition(form="pellet")))

    assert wet.spread.below_log > dry.spread.below_log


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
    assert kinetic(elevation_m=0.0) > kinetic(elevation_m=2438.0)  # type: ignore[operator]


def test_boiled_hops_go_on_isomerising_in_the_whirlpool() -> None:
    stand = an_addition(at="whirlpool", minutes=30.0, temperature_c=90.0)

    alone, with_stand = kinetic(an_addition(minutes=10.0)), kinetic(an_addition(minutes=10.0), stand)

    assert with_stand[0] > alone[0]  # type: ignore[operator]


def test_whirlpool_additions_share_one_vessel() -> None:
    early = an_addition(at="whirlpool", minutes=30.0, temperature_c=90.0)
    late = an_addition(at="whirlpool", minutes=10.0, temperature_c=80.0)

    both = kinetic(early, late)

    # Ten of the early hops' thirty minutes are spent at the later, lower temperature.
    assert both[0] < kinetic(early)[0]  # type: ignore[operator]
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


def test_default_recoveries_give_what_was_found_in_beer() -> None:
    # Justus 2018: 44.0 % in wort after 60 minutes, 33.7 % lost in the cellar, that is 29.2 % in beer.
    brew = a_brew(gravity_sg=1.0)
    (used,) = kinetic_utilizations(brew, kettle_to_wort=kettle_to_wort(None), wort_to_beer=wort_to_beer(None))

    assert used.percent == pytest.approx(29.2, abs=0.1)
    assert 27 < default_kettle_to_wort_percent() < 93


def test_own_recoveries_narrow_the_interval() -> None:
    told = Recoveries(kettle_to_wort_percent=90.0, wort_to_beer_percent=80.0)
    (default,) = kinetic_utilizations(
        a_brew(), kettle_to_wort=kettle_to_wort(None), wort_to_beer=wort_to_beer(None)
    )
    (own,) = kinetic_utilizations(
        a_brew(),
        kettle_to_wort=kettle_to_wort(told.kettle_to_wort_percent),
        wort_to_beer=wort_to_beer(told.wort_to_beer_percent),
    )

    assert own.spread.below_log < default.spread.below_log
    assert own.percent == pytest.approx(kinetic()[0] * 0.72)  # type: ignore[operator]
    assert not kettle_to_wort(90.0).is_default


def test_own_factors_multiply_the_base_model() -> None:
    fit = BrewhouseFit("tinseth", "as_analysed", 1.2, 0.5, True, 6, 0.1)
    additions = (
        an_addition(),
        an_addition(at="whirlpool", minutes=20.0, temperature_c=90.0),
        an_addition(at="dry_hop"),
    )
    base = tinseth_utilizations(a_brew(*additions))

    own = own_utilizations(base, additions, fit)

    assert own[0].percent == pytest.approx(1.2 * base[0].percent)  # type: ignore[operator]
    assert own[1].percent == pytest.approx(0.5 * base[1].percent)  # type: ignore[operator]
    assert own[2] == base[2]
    assert own[0].spread.below_log == pytest.approx(0.16449, rel=1e-4)


@given(st.floats(60, 130), st.floats(0, 240))
def test_a_whirlpool_is_the_boil_times_the_relative_rate(temperature_c: float, minutes: float) -> None:
    boil, stand = tinseth_utilizations(
        a_brew(
            an_addition(minutes=minutes),
            an_addition(at="whirlpool", minutes=minutes, temperature_c=temperature_c),
        )
    )
    ratio = relative_isomerization_rate(temperature_c=temperature_c)

    assert stand.percent == pytest.approx((boil.percent or 0.0) * ratio)
