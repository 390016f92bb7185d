"""The interval of a storage estimate: its laws, and a simulation with a fixed seed."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.storage import Spell, log_loss
from service.science.storage_spread import (
    Ratio,
    alpha_left_estimate,
    alpha_loss_percent_estimate,
    log_loss_estimate,
    rate_estimate_per_day,
)
from service.science.uncertainty import NORMAL_95TH, Estimate

RATE = rate_estimate_per_day(lost_6_months_percent=50, low_percent=40, high_percent=60)
OPEN = Spell(180, 20, 1.0, 0.85, 1.15)
spells = st.lists(
    st.builds(
        Spell,
        days=st.floats(0, 400),
        temperature_c=st.floats(-30, 40),
        packing_factor=st.just(0.5),
        packing_factor_low=st.floats(0.1, 0.5),
        packing_factor_high=st.floats(0.5, 0.9),
    ),
    max_size=4,
)


@given(stored=spells, alpha_sd=st.floats(0, 0.2), hot=st.floats(1, 3))
def test_an_estimate_lies_inside_its_interval_and_never_gains(
    stored: list[Spell], alpha_sd: float, hot: float
) -> None:
    gone = log_loss_estimate(spells=stored, rate_per_day=RATE, above_20_c=Ratio(1 / hot, hot))
    left = alpha_left_estimate(alpha_percent=8.0, alpha_sd_log=alpha_sd, log_loss=gone)
    lost = alpha_loss_percent_estimate(log_loss=gone)

    assert 0 <= gone.low <= gone.estimate <= gone.high
    assert 0 < left.low <= left.estimate <= left.high
    assert 0 <= lost.low <= lost.estimate <= lost.high <= 100
    assert left.estimate <= 8.0


@given(stored=spells)
def test_the_estimate_is_the_plain_formula(stored: list[Spell]) -> None:
    gone = log_loss_estimate(spells=stored, rate_per_day=RATE)

    assert gone.estimate == pytest.approx(log_loss(spells=stored, lost_6_months_percent=50))


def test_without_time_only_the_laboratory_is_in_doubt() -> None:
    gone = log_loss_estimate(spells=[], rate_per_day=RATE)

    left = alpha_left_estimate(alpha_percent=8.0, alpha_sd_log=0.05, log_loss=gone)

    reach = math.exp(NORMAL_95TH * 0.05)
    assert left == Estimate(8.0, pytest.approx(8.0 / reach), pytest.approx(8.0 * reach))
    assert alpha_loss_percent_estimate(log_loss=gone) == Estimate(0.0, 0.0, 0.0)


def test_splitting_a_spell_changes_no_interval() -> None:
    whole = log_loss_estimate(spells=[OPEN], rate_per_day=RATE)
    halves = log_loss_estimate(spells=[Spell(90, 20, 1.0, 0.85, 1.15)] * 2, rate_per_day=RATE)

    assert (halves.low, halves.estimate, halves.high) == pytest.approx(
        (whole.low, whole.estimate, whole.high)
    )


def test_above_20_c_widens_the_interval_and_moves_nothing() -> None:
    warm = Spell(100, 30, 1.0)
    plain = log_loss_estimate(spells=[warm], rate_per_day=RATE)
    flagged = log_loss_estimate(spells=[warm], rate_per_day=RATE, above_20_c=Ratio(0.8, 2.0))
    cold = log_loss_estimate(spells=[Spell(100, 20, 1.0)], rate_per_day=RATE, above_20_c=Ratio(0.8, 2.0))

    assert flagged.estimate == plain.estimate
    assert flagged.low < plain.low
    assert flagged.high > plain.high
    assert cold == log_loss_estimate(spells=[Spell(100, 20, 1.0)], rate_per_day=RATE)


def test_a_measured_share_above_20_c_widens_in_proportion() -> None:
    def high(share: float) -> float:
        spell = Spell(100, 18, 1.0, share_above_20_c=share)
        return log_loss_estimate(spells=[spell], rate_per_day=RATE, above_20_c=Ratio(0.8, 2.0)).high

    assert high(0.0) < high(0.3) < high(1.0)


def test_further_doubts_add_in_quadrature() -> None:
    exact = Estimate(RATE.estimate, RATE.estimate, RATE.estimate)
    ratios = [Ratio(math.exp(-0.3), math.exp(0.6)), Ratio(math.exp(-0.4), math.exp(0.8))]

    gone = log_loss_estimate(spells=[Spell(180, 20, 1.0)], rate_per_day=exact, rate_ratios=ratios)

    assert gone.low == pytest.approx(gone.estimate * math.exp(-0.5))
    assert gone.high == pytest.approx(gone.estimate * math.exp(1.0))


def test_a_rate_that_may_be_none_may_lose_nothing() -> None:
    rate = rate_estimate_per_day(lost_6_months_percent=10, low_percent=0, high_percent=30)

    gone = log_loss_estimate(spells=[OPEN], rate_per_day=rate)

    assert gone.low == 0.0
    assert alpha_loss_percent_estimate(log_loss=gone).low == 0.0


def test_a_pack_that_stops_all_loss_leaves_no_doubt() -> None:
    gone = log_loss_estimate(spells=[Spell(180, 20, 0.0)], rate_per_day=RATE)

    assert gone == Estimate(0.0, 0.0, 0.0)


def test_the_interval_holds_nine_tenths_of_simulated_truths() -> None:
    # Draw rate, packing and laboratory error as stated; the estimate's interval must hold about 90 % of the
    # alphas.
    generator = np.random.default_rng(20260901)
    n = 40_000
    rate_sd, packing_sd, alpha_sd = 0.25, 0.15, 0.06
    rate = Estimate(0.003, 0.003 * math.exp(-NORMAL_95TH * rate_sd), 0.003 * math.exp(NORMAL_95TH * rate_sd))
    reach = math.exp(NORMAL_95TH * packing_sd)
    spell = Spell(200, 12, 0.6, 0.6 / reach, 0.6 * reach)
    exponent = 0.003 * 200 * 2 ** (-8 / 15) * 0.6
    doubt = generator.normal(0, math.hypot(rate_sd, packing_sd), n)
    truths = 9.0 * np.exp(generator.normal(0, alpha_sd, n) - exponent * np.exp(doubt))

    gone = log_loss_estimate(spells=[spell], rate_per_day=rate)
    left = alpha_left_estimate(alpha_percent=9.0, alpha_sd_log=alpha_sd, log_loss=gone)

    assert np.mean((truths >= left.low) & (truths <= left.high)) == pytest.approx(0.90, abs=0.01)
    assert np.mean(truths < left.low) == pytest.approx(0.05, abs=0.01)


@pytest.mark.parametrize(
    "call",
    [
        lambda: rate_estimate_per_day(lost_6_months_percent=50, low_percent=51, high_percent=60),
        lambda: rate_estimate_per_day(lost_6_months_percent=50, low_percent=40, high_percent=49),
        lambda: rate_estimate_per_day(lost_6_months_percent=0, low_percent=0, high_percent=10),
        lambda: log_loss_estimate(spells=[OPEN], rate_per_day=Estimate(-0.001, -0.002, 0.001)),
        lambda: log_loss_estimate(spells=[OPEN], rate_per_day=RATE, rate_ratios=[Ratio(1.1, 1.2)]),
        lambda: log_loss_estimate(spells=[Spell(9, 20, 0.5, 0.6, 0.7)], rate_per_day=RATE),
        lambda: log_loss_estimate(spells=[Spell(9, 20, 0.5, share_above_20_c=1.5)], rate_per_day=RATE),
        lambda: alpha_left_estimate(alpha_percent=-1, alpha_sd_log=0, log_loss=Estimate(0, 0, 0)),
        lambda: alpha_loss_percent_estimate(log_loss=Estimate(0.1, -0.1, 0.2)),
    ],
)
def test_doubts_that_cannot_be_are_refused(call: object) -> None:
    assert callable(call)
    with pytest.raises(OutOfRange):
        call()
