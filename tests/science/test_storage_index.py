"""The hop storage index forward and backward: round trips, laws, and the two traps of its name."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.storage import Spell, log_loss
from service.science.storage_index import (
    FLOOR_LOG,
    ShownLoss,
    alpha_left_between_indices_percent,
    check_hop_storage_index,
    index_after_storage,
    index_from_log_resin_left,
    index_from_resin_loss,
    log_resin_left,
    log_resin_left_limit,
    resin_loss_percent,
    shown_resin_loss_percent,
)

indices = st.floats(0.15, 1.8)
baselines = st.floats(0.23, 0.32)
exponents = st.floats(0, 20)


@given(index=indices, baseline=baselines)
def test_loss_and_index_go_there_and_back(index: float, baseline: float) -> None:
    loss = resin_loss_percent(hop_storage_index=index, baseline_index=baseline)

    assert index_from_resin_loss(resin_loss_percent=loss, baseline_index=baseline) == pytest.approx(index)


@given(index=indices, baseline=baselines)
def test_no_time_gives_the_measured_index_back_even_under_the_baseline(index: float, baseline: float) -> None:
    after = index_after_storage(hop_storage_index=index, log_loss=0, baseline_index=baseline)

    assert after == pytest.approx(index, rel=1e-12)


@given(index=indices, one=exponents, other=exponents)
def test_more_storage_never_lowers_the_index(index: float, one: float, other: float) -> None:
    less, more = sorted((one, other))

    before = index_after_storage(hop_storage_index=index, log_loss=less)
    after = index_after_storage(hop_storage_index=index, log_loss=more)
    assert index * (1 - 1e-12) <= before <= after <= 2.0279


@given(index=indices, first=st.floats(0, 3), second=st.floats(0, 3))
def test_storing_in_two_parts_changes_nothing(index: float, first: float, second: float) -> None:
    halfway = index_after_storage(hop_storage_index=index, log_loss=first)

    assert index_after_storage(hop_storage_index=halfway, log_loss=second) == pytest.approx(
        index_after_storage(hop_storage_index=index, log_loss=first + second), rel=1e-9
    )


@given(index=indices, limit=indices, exponent=st.floats(0, 3))
def test_a_limit_on_a_day_is_linear_in_the_exponent(index: float, limit: float, exponent: float) -> None:
    after = index_after_storage(hop_storage_index=index, log_loss=exponent)
    margin = (
        log_resin_left(hop_storage_index=index) - exponent - log_resin_left_limit(hop_storage_index_max=limit)
    )

    # Exactly at the limit rounding decides; everywhere else both ways to judge agree.
    assert abs(margin) < 1e-9 or (after <= limit) == (margin >= 0)


def test_a_limit_that_all_hops_meet_is_a_number() -> None:
    assert log_resin_left_limit(hop_storage_index_max=2.03) == FLOOR_LOG


@given(index=indices)
def test_the_logarithm_of_what_is_left_gives_the_index_back(index: float) -> None:
    left = log_resin_left(hop_storage_index=index)

    assert index_from_log_resin_left(log_resin_left=left) == pytest.approx(index)


@pytest.mark.parametrize(("days", "index"), [(30, 0.314), (60, 0.385), (90, 0.462), (180, 0.712)])
def test_unprotected_hops_at_20_c_age_as_both_published_formulas_say(days: float, index: float) -> None:
    # Garetz 1994 (rate, 50 % lost in six months) and Nickerson & Likens 1979 (index) together; derived.
    exponent = log_loss(spells=[Spell(days, 20, 1.0)], lost_6_months_percent=50)

    assert index_after_storage(hop_storage_index=0.25, log_loss=exponent) == pytest.approx(index, abs=5e-4)


@given(alpha=st.floats(0, 20), then=indices, now=indices)
def test_alpha_between_two_indices_goes_there_and_back(alpha: float, then: float, now: float) -> None:
    forth = alpha_left_between_indices_percent(alpha_then_percent=alpha, index_then=then, index_now=now)

    back = alpha_left_between_indices_percent(
        alpha_then_percent=min(forth, 100.0), index_then=now, index_now=then
    )
    assert forth > 100 or back == pytest.approx(alpha, abs=1e-9)


def test_a_negative_loss_is_shown_as_none_and_said() -> None:
    # The published worked example (ASBC Hops-6) itself has an index of 0.2215.
    assert shown_resin_loss_percent(hop_storage_index=0.2215) == ShownLoss(0.0, was_negative=True)
    assert shown_resin_loss_percent(hop_storage_index=0.25) == ShownLoss(0.0, was_negative=False)
    assert shown_resin_loss_percent(hop_storage_index=0.30).percent == pytest.approx(8.71, abs=0.005)


@pytest.mark.parametrize("mistaken", [10, 35, 80.0])
def test_per_cent_lost_in_six_months_is_not_an_index_and_the_message_says_so(mistaken: float) -> None:
    with pytest.raises(OutOfRange, match="looks like % lost in 6 months") as refusal:
        check_hop_storage_index(hop_storage_index=mistaken)

    assert refusal.value.facts == {
        "name": "hop_storage_index",
        "value": mistaken,
        "low": 0.01,
        "high": 2.03,
        "unit": "",
    }


@pytest.mark.parametrize("wrong", [0, -0.3, 2.04, 9.9, 81, math.nan, math.inf, True, "0.3", None])
def test_what_cannot_be_an_index_is_refused(wrong: object) -> None:
    with pytest.raises(OutOfRange, match="hop_storage_index must be"):
        resin_loss_percent(hop_storage_index=wrong)  # type: ignore[arg-type]


def test_an_index_that_leaves_nothing_has_no_logarithm() -> None:
    with pytest.raises(OutOfRange, match="all alpha and beta acids are lost"):
        log_resin_left(hop_storage_index=2.03)


@pytest.mark.parametrize(
    "call",
    [
        lambda: resin_loss_percent(hop_storage_index=0.3, baseline_index=0.1),
        lambda: resin_loss_percent(hop_storage_index=0.3, slope_percent=50),
        lambda: index_from_resin_loss(resin_loss_percent=101),
        lambda: index_after_storage(hop_storage_index=0.3, log_loss=-0.1),
        lambda: index_from_log_resin_left(log_resin_left=2.0),
        lambda: alpha_left_between_indices_percent(alpha_then_percent=101, index_then=0.3, index_now=0.4),
    ],
)
def test_figures_outside_the_formula_are_refused(call: object) -> None:
    assert callable(call)
    with pytest.raises(OutOfRange):
        call()
