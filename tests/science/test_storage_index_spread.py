"""How far an index may be off: the crop years, and a simulation with a fixed seed."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.storage_index import index_after_storage
from service.science.storage_index_spread import (
    index_after_storage_estimate,
    resin_loss_by_crop_year_percent,
    resin_loss_sd_points,
)
from service.science.uncertainty import NORMAL_95TH, Estimate


def test_crop_years_spread_the_loss_as_published() -> None:
    # Slopes of Nickerson & Likens 1979, J. ASBC 37:184-187: 101.8 (1969) to 114.6 (1977).
    answer = resin_loss_by_crop_year_percent(hop_storage_index=0.50)

    assert (answer.low, answer.estimate, answer.high) == pytest.approx((30.64, 33.11, 34.50), abs=0.01)


def test_crop_years_keep_their_order_under_the_baseline() -> None:
    answer = resin_loss_by_crop_year_percent(hop_storage_index=0.22)

    assert answer.low < answer.estimate < answer.high < 0


def test_scatter_within_a_laboratory_is_half_that_between() -> None:
    # Nickerson & Likens 1979: CV 1.3 % within, 2.8 % between laboratories.
    assert resin_loss_sd_points(cv_percent=1.3) == pytest.approx(0.617, abs=0.001)


@given(
    index=st.floats(0.2, 1.5),
    sd_log=st.floats(0, 0.1),
    middle=st.floats(0, 2),
    slow=st.floats(0, 1),
    fast=st.floats(1, 3),
)
def test_an_estimate_lies_inside_its_interval(
    index: float, sd_log: float, middle: float, slow: float, fast: float
) -> None:
    gone = Estimate(middle, middle * slow, middle * fast)

    answer = index_after_storage_estimate(hop_storage_index=index, index_sd_log=sd_log, log_loss=gone)

    assert answer.low <= answer.estimate <= answer.high <= 2.0279
    assert answer.estimate == index_after_storage(hop_storage_index=index, log_loss=middle)


def test_without_time_only_the_laboratory_is_in_doubt() -> None:
    answer = index_after_storage_estimate(
        hop_storage_index=0.27, index_sd_log=0.028, log_loss=Estimate(0.0, 0.0, 0.0)
    )

    reach = math.exp(NORMAL_95TH * 0.028)
    assert (answer.low, answer.estimate, answer.high) == pytest.approx((0.27 / reach, 0.27, 0.27 * reach))


def test_the_interval_holds_nine_tenths_of_simulated_truths() -> None:
    generator = np.random.default_rng(20260902)
    n = 20_000
    exponent, rate_sd, index_sd = 0.3, 0.2, 0.04
    starts = 0.30 * np.exp(generator.normal(0, index_sd, n))
    gone = exponent * np.exp(generator.normal(0, rate_sd, n))
    left = (1 - 1.1 * np.log10(starts / 0.25)) * np.exp(-gone)
    truths = 0.25 * 10 ** ((1 - left) / 1.1)
    reach = math.exp(NORMAL_95TH * rate_sd)

    answer = index_after_storage_estimate(
        hop_storage_index=0.30,
        index_sd_log=index_sd,
        log_loss=Estimate(exponent, exponent / reach, exponent * reach),
    )

    assert np.mean((truths >= answer.low) & (truths <= answer.high)) == pytest.approx(0.90, abs=0.01)


def test_figures_that_cannot_be_are_refused() -> None:
    with pytest.raises(OutOfRange):
        resin_loss_sd_points(cv_percent=-1)
    with pytest.raises(OutOfRange):
        index_after_storage_estimate(hop_storage_index=0.3, index_sd_log=-1, log_loss=Estimate(0, 0, 0))
