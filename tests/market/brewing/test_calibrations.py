"""A brewery's own utilization: the brews behind it, what it narrows, and what it must not narrow."""

import math
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import InvalidRequest, OutOfRange, UnfitBrews
from service.market.brewing.base_methods import BASE_METHODS, base_ibus
from service.market.brewing.bitterness import Bitterness, brew_bitterness
from service.market.brewing.brews import Brew
from service.market.brewing.calibrations import (
    MeasuredBrew,
    UtilizationFit,
    accept_measured_brew,
    brewhouse_method,
    fit_of_brews,
    hops_of_brew,
)
from service.science.brewhouse import BrewhouseFit
from tests.factories import NOW
from tests.market.brewing.brew_cases import a_brew, a_fit, an_addition, an_alpha

STAND = {"alpha_percent": 10.0, "mass_g": 30.0, "at": "whirlpool", "minutes": 20.0, "temperature_c": 85.0}


def measured(mass_g: float, measured_bu: float, *more: dict[str, Any], **told: Any) -> MeasuredBrew:
    boil = {"alpha_percent": 10.0, "mass_g": mass_g, "at": "boil", "minutes": 60.0, **told}
    brew = {"wort": {"volume_l": 20.0, "gravity_sg": 1.05}, "additions": [boil, *more]}
    return MeasuredBrew(
        code="FINCH-BREW-01",
        brewery_code="FINCH",
        brewed_on=date(2026, 5, 1),
        measured_bu=measured_bu,
        told=brew,
        hops=hops_of_brew(brew, lots={}, on=date(2026, 5, 1)),
        note=None,
        filed_at=NOW,
        filed_by="brewery:FINCH",
    )


def own(brew: Brew, fit: BrewhouseFit) -> Bitterness:
    method = brewhouse_method(UtilizationFit(brewery_code="FINCH", fit=fit, brews=()))
    return brew_bitterness(brew, method=method, alpha_basis="estimated")


def fitted(*brews: MeasuredBrew, base_model: str = "tinseth") -> UtilizationFit:
    return fit_of_brews("FINCH", brews, base_model=base_model, alpha_basis="estimated")


# 30 g give 34.6 IBU by the base method (Tinseth equation, derived).
BREWS = (measured(30, 38.06), measured(20, 25.8), measured(40, 49.9))


def test_brews_that_agree_give_their_factor() -> None:
    found = fitted(*BREWS)

    assert found.fit.factor == pytest.approx(1.1, abs=0.02)
    assert [one.boil_ibu for one in found.brews] == pytest.approx([34.60, 23.07, 46.13], abs=0.01)
    assert found.brews[0].predicted_ibu == pytest.approx(34.60 * found.fit.factor, abs=0.01)


@pytest.mark.parametrize(
    ("brews", "reason"),
    [(BREWS[:2], "few"), ((measured(30, 33), measured(40, 12), measured(20, 60)), "contradictory")],
)
def test_too_few_or_contradictory_brews_are_refused(brews: tuple[MeasuredBrew, ...], reason: str) -> None:
    with pytest.raises(UnfitBrews) as refused:
        fitted(*brews)

    assert refused.value.facts["reason"] == reason


def test_a_brew_keeps_the_alpha_of_its_day() -> None:
    brew = measured(30, 33, hops := dict(STAND))

    assert brew.hops[1] == {"form": None, "estimated": 10.0, "as_analysed": 10.0}
    assert hops == STAND


@pytest.mark.parametrize(
    ("brew", "refusal"),
    [
        (measured(30, 33, minutes=None), InvalidRequest),
        (measured(30, 33, minutes=241.0), OutOfRange),
        (measured(30, 33, minutes=0.0), OutOfRange),
    ],
    ids=["no time", "too long", "no bitterness"],
)
def test_a_brew_that_cannot_be_reckoned_is_not_kept(brew: MeasuredBrew, refusal: type[Exception]) -> None:
    assert accept_measured_brew(BREWS[0]) is BREWS[0]
    with pytest.raises(refusal):
        accept_measured_brew(brew)


def test_own_factors_multiply_the_base_method() -> None:
    stand = an_addition(at="whirlpool", minutes=20.0, temperature_c=90.0)
    brew = a_brew(an_addition(), stand, an_addition(at="dry_hop"))
    base = brew_bitterness(brew, method=BASE_METHODS["tinseth"], alpha_basis="estimated").additions

    found = own(brew, a_fit()).additions

    assert found[0].utilization_percent == pytest.approx(1.2 * base[0].utilization_percent)  # type: ignore[operator]
    assert found[1].utilization_percent == pytest.approx(0.8 * base[1].utilization_percent)  # type: ignore[operator]
    assert found[2].ibu is None


def test_own_factors_on_kinetics_stand_for_both_recoveries() -> None:
    bare = sum(base_ibus(a_brew(), base=BASE_METHODS["kinetic"]))

    found = own(a_brew(), a_fit(base_model="kinetic", factor=0.5))

    assert found.ibu is not None
    assert found.ibu.estimate == pytest.approx(0.5 * bare)
    assert found.recoveries == {}


@pytest.mark.parametrize("base_model", list(BASE_METHODS))
@settings(max_examples=20)
@given(
    st.lists(st.floats(0.97, 1.03), min_size=3, max_size=10),
    st.sampled_from([None, "wet_hop"]),
    st.floats(70, 100),
)
def test_brews_of_the_boil_never_narrow_a_whirlpool(
    base_model: str, ratios: list[float], form: str | None, temperature_c: float
) -> None:
    # Brews without a whirlpool say nothing of one, so the plain method's interval is the least.
    fit = fitted(*(measured(30, 34 * ratio) for ratio in ratios), base_model=base_model).fit
    brew = a_brew(an_addition(at="whirlpool", minutes=20.0, temperature_c=temperature_c, form=form))
    plain = brew_bitterness(brew, method=BASE_METHODS[base_model], alpha_basis="estimated").ibu
    found = own(brew, fit).ibu

    assert plain is not None
    assert found is not None
    assert found.high / found.estimate >= plain.high / plain.estimate * (1 - 1e-12)
    assert found.low / found.estimate <= plain.low / plain.estimate * (1 + 1e-12)


def test_what_brews_of_the_boil_say_of_a_whirlpool_is_said() -> None:
    stand = a_brew(an_addition(at="whirlpool", minutes=20.0, temperature_c=90.0))
    words = "the brews gave the whirlpool no factor of its own"

    unlearnt = own(stand, a_fit(has_own_whirlpool_factor=False)).assumptions
    learnt = own(stand, a_fit()).assumptions

    assert any(words in one for one in unlearnt)
    assert not any(words in one for one in learnt)


def test_a_known_utilization_narrows_the_boil_to_little_more_than_alpha() -> None:
    fit = fitted(*(measured(30, bu) for bu in (38.0, 38.3, 37.8, 38.1, 38.2, 37.9))).fit

    found = own(a_brew(), fit)

    assert found.ibu is not None
    assert found.alpha_alone_ibu is not None
    assert math.log(found.ibu.high / found.ibu.low) < 1.02 * math.log(
        found.alpha_alone_ibu.high / found.alpha_alone_ibu.low
    )


def test_a_brew_of_boil_and_whirlpool_is_surer_than_its_parts_alone() -> None:
    # With two factors the doubt about each leans the other way.
    stand = an_addition(at="whirlpool", minutes=20.0, temperature_c=90.0, alpha=an_alpha(scatter={}))
    found = own(
        a_brew(an_addition(alpha=an_alpha(scatter={})), stand),
        a_fit(sd_log=0.2, doubt=(1.0, -0.8, 1.0)),
    )

    reaches = [math.log(one.high / one.estimate) for one in (r.ibu for r in found.additions) if one]

    assert found.ibu is not None
    assert math.log(found.ibu.high / found.ibu.estimate) < min(reaches)
