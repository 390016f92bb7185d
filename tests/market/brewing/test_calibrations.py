"""A brewery's own utilization: fitted, chosen, refused."""

from datetime import date

import pytest

from service.errors import UnfitBrews
from service.market.brewing.calibrations import PastBrew, UtilizationFit, choose_fit, fit_past_brews
from service.science.brewhouse import BrewhouseFit
from tests.factories import NOW


def past(boil_ibu: float, measured_bu: float, whirlpool_ibu: float = 0.0) -> PastBrew:
    return PastBrew(
        brewed_on=date(2026, 5, 1),
        measured_bu=measured_bu,
        boil_ibu=boil_ibu,
        whirlpool_ibu=whirlpool_ibu,
        told={},
    )


def a_fit(code: str, alpha_basis: str) -> UtilizationFit:
    return UtilizationFit(
        code=code,
        brewery_code="FINCH",
        fit=BrewhouseFit("tinseth", alpha_basis, 1.1, 1.1, False, 3, 0.05),
        brews=(),
        note=None,
        made_at=NOW,
        made_by="brewery:FINCH",
    )


def test_brews_that_agree_give_their_factor() -> None:
    fit = fit_past_brews(
        [past(30, 33), past(40, 44), past(20, 22)], base_model="tinseth", alpha_basis="as_analysed"
    )

    assert fit.factor == pytest.approx(1.1)
    assert fit.left_out_error_fraction == pytest.approx(0, abs=1e-9)
    assert (fit.alpha_basis, fit.brews) == ("as_analysed", 3)


@pytest.mark.parametrize(
    ("brews", "reason"),
    [
        ([past(30, 33), past(40, 44)], "few"),
        ([past(30, 33), past(40, 9), past(20, 60)], "contradictory"),
    ],
)
def test_too_few_or_contradictory_brews_are_refused(brews: list[PastBrew], reason: str) -> None:
    with pytest.raises(UnfitBrews) as refused:
        fit_past_brews(brews, base_model="tinseth", alpha_basis="as_analysed")

    assert refused.value.facts["reason"] == reason


def test_the_newest_fit_on_the_alpha_is_chosen_and_a_named_one_before_it() -> None:
    fits = [a_fit("U1", "estimated"), a_fit("U2", "estimated"), a_fit("U3", "as_analysed")]

    assert choose_fit(fits, alpha_basis="estimated").code == "U2"
    assert choose_fit(fits, alpha_basis="estimated", code="U1").code == "U1"


@pytest.mark.parametrize(
    ("fits", "code", "reason"),
    [
        ([], None, "no-fit"),
        ([a_fit("U1", "estimated")], None, "alpha-basis"),
        ([a_fit("U1", "estimated")], "U9", "no-fit"),
    ],
)
def test_no_fit_on_this_alpha_is_refused(fits: list[UtilizationFit], code: str | None, reason: str) -> None:
    with pytest.raises(UnfitBrews) as refused:
        choose_fit(fits, alpha_basis="as_analysed", code=code)

    assert refused.value.facts["reason"] == reason
