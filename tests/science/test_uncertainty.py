"""Intervals against a general statistics library, and the refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.errors import OutOfRange
from service.science.uncertainty import (
    BALE_CV_HIGH_PERCENT,
    BALE_CV_LOW_PERCENT,
    BALE_CV_PERCENT,
    NORMAL_95TH,
    Estimate,
    HalfWidths,
    combine_half_widths,
    combine_sd_log,
    estimate_from_half_widths,
    half_widths_from_sd,
    lognormal_estimate,
    sampling_sd_log,
    sd_log_from_cv,
    sd_log_from_interval,
    sd_log_from_stated_uncertainty,
    student_95th,
)

sds = st.floats(0, 1)


def test_the_95th_percentile_is_the_normal_distributions() -> None:
    # scipy.stats as the reference.
    assert pytest.approx(stats.norm.ppf(0.95), abs=1e-12) == NORMAL_95TH


def test_lognormal_estimate_gives_the_librarys_percentiles() -> None:
    # scipy.stats.lognorm as the reference.
    library = stats.lognorm(s=0.12, scale=5.4)

    answer = lognormal_estimate(median=5.4, sd_log=0.12)

    assert answer == Estimate(
        5.4, pytest.approx(library.ppf(0.05), rel=1e-12), pytest.approx(library.ppf(0.95), rel=1e-12)
    )


def test_a_coefficient_of_variation_is_the_librarys() -> None:
    # scipy.stats.lognorm as the reference: its own standard deviation over its mean.
    library = stats.lognorm(s=sd_log_from_cv(cv_percent=17.5))

    assert library.std() / library.mean() == pytest.approx(0.175, rel=1e-9)


@given(sd_log=sds, median=st.floats(0.01, 1000))
def test_an_interval_gives_its_scatter_back(sd_log: float, median: float) -> None:
    interval = lognormal_estimate(median=median, sd_log=sd_log)

    assert sd_log_from_interval(low=interval.low, high=interval.high) == pytest.approx(sd_log, abs=1e-12)


@given(parts=st.lists(sds, max_size=5))
def test_scatters_add_like_even_half_widths(parts: list[float]) -> None:
    whole = combine_half_widths(parts=[half_widths_from_sd(sd_log=sd_log) for sd_log in parts])

    even = half_widths_from_sd(sd_log=combine_sd_log(sds_log=parts))
    assert whole.below_log == pytest.approx(even.below_log)
    assert whole.above_log == pytest.approx(even.above_log)


def test_uneven_half_widths_keep_their_sides() -> None:
    whole = combine_half_widths(parts=[HalfWidths(0.3, 0.0), HalfWidths(0.4, 0.2)])

    assert (whole.below_log, whole.above_log) == (pytest.approx(0.5), pytest.approx(0.2))
    answer = estimate_from_half_widths(estimate=10.0, half_widths=whole)
    assert answer == Estimate(10.0, pytest.approx(10 * math.exp(-0.5)), pytest.approx(10 * math.exp(0.2)))


def test_a_stated_uncertainty_spans_two_standard_deviations_unless_said() -> None:
    two = sd_log_from_stated_uncertainty(value=5.4, plus_minus=0.54)
    one = sd_log_from_stated_uncertainty(value=5.4, plus_minus=0.54, coverage_factor=1)

    assert two == sd_log_from_cv(cv_percent=5)
    assert one == pytest.approx(sd_log_from_cv(cv_percent=10))


def test_sampling_scatter_falls_with_the_root_of_the_packages() -> None:
    one = sampling_sd_log(cv_percent=BALE_CV_PERCENT, packages_cored=1)

    assert sampling_sd_log(cv_percent=BALE_CV_PERCENT, packages_cored=9) == pytest.approx(one / 3)
    # Verzele & De Keukeleire, p. 331 (quoted): 15 to 20 % between and within bales.
    assert (
        sd_log_from_cv(cv_percent=BALE_CV_LOW_PERCENT) < one < sd_log_from_cv(cv_percent=BALE_CV_HIGH_PERCENT)
    )


@pytest.mark.parametrize(
    "call",
    [
        lambda: lognormal_estimate(median=math.nan, sd_log=0.1),
        lambda: lognormal_estimate(median=5, sd_log=-0.1),
        lambda: estimate_from_half_widths(estimate=-1, half_widths=HalfWidths(0, 0)),
        lambda: sd_log_from_interval(low=2, high=1),
        lambda: sd_log_from_interval(low=0, high=1),
        lambda: sd_log_from_stated_uncertainty(value=5, plus_minus=6),
        lambda: sd_log_from_stated_uncertainty(value=5, plus_minus=0.1, coverage_factor=0),
        lambda: combine_sd_log(sds_log=[0.1, math.nan]),
        lambda: sampling_sd_log(cv_percent=10, packages_cored=0),
        lambda: sampling_sd_log(cv_percent=-1, packages_cored=1),
        lambda: half_widths_from_sd(sd_log=math.inf),
    ],
)
def test_impossible_scatters_are_refused(call: object) -> None:
    assert callable(call)
    with pytest.raises(OutOfRange):
        call()


@pytest.mark.parametrize(
    ("degrees", "expected"), [(2, 2.920), (3, 2.353), (4, 2.132), (9, 1.833), (30, 1.697)]
)
def test_students_t_agrees_with_the_printed_table(degrees, expected):
    # Critical values of Student's t, one-sided 0.05: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2.
    assert student_95th(degrees_of_freedom=degrees) == pytest.approx(expected, abs=5e-4)


def test_students_t_nears_the_normal_figure():
    assert student_95th(degrees_of_freedom=1_000_000) == pytest.approx(NORMAL_95TH, abs=1e-5)
