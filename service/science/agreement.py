"""Whether two results on one lot differ by more than their scatter explains.

Nobody is wrong because two numbers differ: samples differ, laboratories differ, and hops age between two samplings.
"""

import math

from service.facts import Fact
from service.science.checks import between
from service.science.uncertainty import LARGEST_VALUE, WIDEST_SD_LOG, Estimate

# The 97.5th percentile of the standard normal distribution; a test compares it with a library.
NORMAL_97TH_AND_HALF = 1.959963984540054
AGREEMENT_CONFIDENCE = 0.95


class Agreement(Fact, frozen=True):
    """Two results beside each other, and how far apart scatter alone would bring them in 19 of 20 cases.

    `expected` is what the second result should be, were the first one true; a second result inside its interval
    contradicts nobody.
    """

    expected: Estimate
    difference_percent: float
    standard_score: float
    is_explained: bool


def agreement_of_two_results(
    *,
    first: float,
    second: float,
    first_sd_log: float,
    second_sd_log: float,
    change_log: float = 0.0,
    change_sd_log: float = 0.0,
) -> Agreement:
    """Compare two results on one lot against the scatter of both.

    Expected: first exp(change); z = ln(second/expected)/sqrt(s1^2 + s2^2 + s_change^2); explained while |z| <= 1.96.

    Args:
        first: the first result, in any unit. [as the figure] 1e-12..1e12
        second: the second result, in the same unit. [as the figure] 1e-12..1e12
        first_sd_log: scatter of laboratory and sample of the first, in natural logarithms. [-] 0..3
        second_sd_log: the same of the second. [-] 0..3
        change_log: what happened to the goods between the samplings, in natural logarithms; a loss is negative.
            [-] -20..20
        change_sd_log: how far that may be off. [-] 0..3

    Returns:
        The second result as expected from the first, with its 2.5th to 97.5th percentile. [as the figure]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or no scatter is given at all.

    Source: difference of two normal figures, the comparison that ISO 5725 rests its critical difference on; no
        empirical constant.

    >>> agreement_of_two_results(first=5.4, second=4.9, first_sd_log=0.05, second_sd_log=0.05).is_explained
    True

    """
    between("first", first, 1 / LARGEST_VALUE, LARGEST_VALUE, "")
    between("second", second, 1 / LARGEST_VALUE, LARGEST_VALUE, "")
    between("first_sd_log", first_sd_log, 0, WIDEST_SD_LOG, "")
    between("second_sd_log", second_sd_log, 0, WIDEST_SD_LOG, "")
    between("change_log", change_log, -20, 20, "")
    between("change_sd_log", change_sd_log, 0, WIDEST_SD_LOG, "")
    scatter = math.sqrt(first_sd_log**2 + second_sd_log**2 + change_sd_log**2)
    between("scatter of both results", scatter, 1e-9, 2 * WIDEST_SD_LOG, "")
    expected = first * math.exp(change_log)
    reach = math.exp(NORMAL_97TH_AND_HALF * scatter)
    score = math.log(second / expected) / scatter
    return Agreement(
        expected=Estimate(expected, expected / reach, expected * reach, AGREEMENT_CONFIDENCE),
        difference_percent=100 * (second / expected - 1),
        standard_score=score,
        is_explained=abs(score) <= NORMAL_97TH_AND_HALF,
    )
