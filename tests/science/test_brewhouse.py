import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRange, UnfitBrews
from service.facts import replace
from service.science.brewhouse import Brew, BrewhouseFit, brewhouse_ibu, fit_brewhouse

GROUND = {"base_model": "tinseth", "alpha_basis": "as_analysed"}
FIT = BrewhouseFit("tinseth", "as_analysed", 1.2, 0.8, True, 6, 0.1)


def brews_of(factor: float, whirlpool_factor: float, wobble: float = 0.0) -> list[Brew]:
    rows = [(30, 0), (10, 20), (25, 10), (0, 30), (40, 5), (15, 15), (20, 2)]
    signs = [1, -1, 1, -1, 1, -1, 1]
    return [
        Brew(boil, whirlpool, (factor * boil + whirlpool_factor * whirlpool) * (1 + sign * wobble))
        for (boil, whirlpool), sign in zip(rows, signs, strict=True)
    ]


@settings(max_examples=40)
@given(st.floats(0.3, 3), st.lists(st.floats(5, 60), min_size=3, max_size=10))
def test_exact_brews_give_their_factor_back(factor, bitterness):
    brews = [Brew(ibu, 0, factor * ibu) for ibu in bitterness]

    fit = fit_brewhouse(brews=brews, **GROUND)

    assert fit.factor == fit.whirlpool_factor == pytest.approx(factor)
    assert fit.left_out_error_fraction == pytest.approx(0, abs=1e-9)
    assert fit.has_own_whirlpool_factor is False
    assert fit.brews == len(brews)


@settings(max_examples=40)
@given(st.floats(0.5, 2), st.floats(0.5, 2))
def test_brews_that_differ_give_the_whirlpool_its_own_factor(factor, whirlpool_factor):
    fit = fit_brewhouse(brews=brews_of(factor, whirlpool_factor), **GROUND)

    assert fit.has_own_whirlpool_factor is True
    assert (fit.factor, fit.whirlpool_factor) == (pytest.approx(factor), pytest.approx(whirlpool_factor))


def test_brews_of_one_recipe_give_one_factor():
    brews = [Brew(20, 10, 33), Brew(40, 20, 66), Brew(10, 5, 16.5), Brew(30, 15, 49.5), Brew(20, 10, 33)]

    fit = fit_brewhouse(brews=brews, **GROUND)

    assert fit.has_own_whirlpool_factor is False
    assert fit.factor == fit.whirlpool_factor == pytest.approx(1.1)


def test_few_brews_give_one_factor():
    assert fit_brewhouse(brews=brews_of(1.1, 1.1)[:4], **GROUND).has_own_whirlpool_factor is False


@pytest.mark.parametrize("own", [True, False], ids=["two-factors", "one-factor"])
def test_the_left_out_error_is_that_of_leaving_each_brew_out(own):
    brews = (
        brews_of(1.2, 0.9, wobble=0.08) if own else [Brew(b, 0, m) for b, m in ((30, 33), (20, 24), (40, 41))]
    )
    errors = []
    for place, brew in enumerate(brews):
        others = brews[:place] + brews[place + 1 :]
        table = np.array([(other.boil_ibu, other.whirlpool_ibu) for other in others])
        table = table / np.array([[other.measured_bu] for other in others])
        table = table if own else table[:, :1]
        factors = np.linalg.solve(table.T @ table, table.T @ np.ones(len(others)))
        given = np.array([brew.boil_ibu, brew.whirlpool_ibu])[: len(factors)]
        errors.append(given @ factors / brew.measured_bu - 1)

    fit = fit_brewhouse(brews=brews, **GROUND)

    assert fit.has_own_whirlpool_factor is own
    assert fit.left_out_error_fraction == pytest.approx(np.sqrt(np.mean(np.square(errors))), rel=1e-9)


def test_an_estimate_widens_with_the_scatter_of_the_brews():
    narrow = fit_brewhouse(brews=brews_of(1.2, 0.9, wobble=0.02), **GROUND)
    wide = fit_brewhouse(brews=brews_of(1.2, 0.9, wobble=0.1), **GROUND)

    one, other = (brewhouse_ibu(fit=fit, boil_ibu=30, whirlpool_ibu=10, **GROUND) for fit in (narrow, wide))

    assert one.low < one.estimate < one.high
    assert other.high / other.estimate > one.high / one.estimate


def test_an_estimate_uses_both_factors():
    answer = brewhouse_ibu(fit=FIT, boil_ibu=30, whirlpool_ibu=10, **GROUND)

    assert answer.estimate == pytest.approx(44)


@pytest.mark.parametrize(
    ("brews", "reason"),
    [
        ([], "few"),
        ([Brew(30, 0, 30), Brew(20, 0, 20)], "few"),
        ([Brew(30, 0, 10), Brew(30, 0, 60), Brew(30, 0, 30)], "contradictory"),
        ([Brew(1, 0, 150), Brew(1, 0, 150), Brew(1, 0, 150)], "implausible"),
    ],
    ids=["none", "two", "contradictory", "implausible"],
)
def test_brews_that_tell_nothing_are_refused(brews, reason):
    with pytest.raises(UnfitBrews) as refused:
        fit_brewhouse(brews=brews, **GROUND)

    assert refused.value.facts == {"reason": reason}


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"alpha_basis": "estimated"}, "alpha-basis"),
        ({"alpha_basis": "guessed"}, "alpha-basis"),
        ({"base_model": "kinetic"}, "base-model"),
    ],
    ids=["other-alpha", "unknown-alpha", "other-model"],
)
def test_a_fit_is_refused_on_other_ground(changed, reason):
    with pytest.raises(UnfitBrews) as refused:
        brewhouse_ibu(fit=FIT, boil_ibu=30, whirlpool_ibu=0, **{**GROUND, **changed})

    assert refused.value.facts == {"reason": reason}


def test_a_fit_on_aged_alpha_serves_aged_alpha():
    fit = replace(FIT, alpha_basis="estimated")

    answer = brewhouse_ibu(
        fit=fit, boil_ibu=10, whirlpool_ibu=0, base_model="tinseth", alpha_basis="estimated"
    )

    assert answer.estimate == pytest.approx(12)


def test_an_unknown_alpha_basis_is_refused_before_the_fit():
    with pytest.raises(UnfitBrews, match="as_analysed, estimated, not 'fresh'"):
        fit_brewhouse(brews=brews_of(1, 1), base_model="tinseth", alpha_basis="fresh")


@pytest.mark.parametrize(
    "figures", [(-1, 0, 20), (20, 1001, 20), (20, 0, 0), (0, 0, 20), (20, 0, float("nan"))], ids=str
)
def test_a_brew_that_cannot_be_is_refused(figures):
    with pytest.raises(OutOfRange):
        Brew(*figures)
