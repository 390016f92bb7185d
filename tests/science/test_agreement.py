"""Two results on one lot: what scatter explains, against a general statistics library."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.errors import OutOfRange
from service.science.agreement import NORMAL_97TH_AND_HALF, agreement_of_two_results

SCATTERS = st.floats(0.005, 0.4)
RESULTS = st.floats(0.1, 30)


def test_the_bound_is_the_librarys_percentile() -> None:
    assert pytest.approx(stats.norm.ppf(0.975), rel=1e-12) == NORMAL_97TH_AND_HALF


@pytest.mark.parametrize("sd", [0.01, 0.05, 0.2])
def test_like_scatters_give_the_critical_difference_of_two_single_results(sd: float) -> None:
    """For two results of one standard deviation the bound is norm.ppf(0.975) sqrt(2) sd, 2.77 sd."""
    bound = stats.norm.ppf(0.975) * math.sqrt(2) * sd

    inside, outside = (
        agreement_of_two_results(
            first=5.0, second=5.0 * math.exp(bound * k), first_sd_log=sd, second_sd_log=sd
        )
        for k in (0.999, 1.001)
    )

    assert (inside.is_explained, outside.is_explained) == (True, False)
    assert inside.expected.high == pytest.approx(5.0 * math.exp(bound))


@given(RESULTS, RESULTS, SCATTERS, SCATTERS)
def test_it_is_the_same_from_either_side(first: float, second: float, one: float, two: float) -> None:
    there = agreement_of_two_results(first=first, second=second, first_sd_log=one, second_sd_log=two)
    back = agreement_of_two_results(first=second, second=first, first_sd_log=two, second_sd_log=one)

    assert there.standard_score == pytest.approx(-back.standard_score)
    assert there.is_explained == (there.expected.low <= second <= there.expected.high)


@given(RESULTS, RESULTS, SCATTERS, SCATTERS, SCATTERS)
def test_more_scatter_never_accuses(first: float, second: float, one: float, two: float, more: float) -> None:
    narrow = agreement_of_two_results(first=first, second=second, first_sd_log=one, second_sd_log=two)
    wide = agreement_of_two_results(
        first=first, second=second, first_sd_log=one, second_sd_log=two, change_sd_log=more
    )

    assert wide.is_explained or not narrow.is_explained


def test_nineteen_of_twenty_honest_pairs_are_explained() -> None:
    rng = np.random.default_rng(20261126)
    one, two, loss, doubt = 0.06, 0.09, -0.2, 0.05
    truths = np.exp(rng.normal(1.5, 0.3, 4000))
    firsts = truths * np.exp(rng.normal(0, one, 4000))
    seconds = truths * np.exp(loss + rng.normal(0, doubt, 4000) + rng.normal(0, two, 4000))

    explained = [
        agreement_of_two_results(
            first=float(a),
            second=float(b),
            first_sd_log=one,
            second_sd_log=two,
            change_log=loss,
            change_sd_log=doubt,
        ).is_explained
        for a, b in zip(firsts, seconds, strict=True)
    ]

    assert 0.94 <= sum(explained) / len(explained) <= 0.96


def test_results_without_any_scatter_cannot_be_compared() -> None:
    with pytest.raises(OutOfRange, match="scatter"):
        agreement_of_two_results(first=5.0, second=5.0, first_sd_log=0.0, second_sd_log=0.0)
