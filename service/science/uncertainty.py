"""How far a figure may be off: estimates with an interval, and how scatters add up.

A figure is taken as lognormal: its logarithm is normal. Intervals run from the 5th to the 95th percentile.
Scatters add in quadrature, each side of an interval for itself.
"""

import math
from collections.abc import Sequence

from service.facts import Fact
from service.science.checks import between

CONFIDENCE = 0.9
# The 95th percentile of the standard normal distribution; a test compares it with a library.
NORMAL_95TH = 1.6448536269514722

# Alpha varies by 15 to 20 % between and within the bales of one delivery: Verzele & De Keukeleire, p. 331
# (quoted, second hand); the middle is taken as one standard deviation.
BALE_CV_LOW_PERCENT = 15.0
BALE_CV_PERCENT = 17.5
BALE_CV_HIGH_PERCENT = 20.0

WIDEST_SD_LOG = 3.0
LARGEST_VALUE = 1e12
MOST_PACKAGES = 100_000


class Estimate(Fact, frozen=True):
    """A figure with the interval that holds the truth with the stated confidence."""

    estimate: float
    low: float
    high: float
    confidence: float = CONFIDENCE


class HalfWidths(Fact, frozen=True):
    """How far an interval reaches below and above its figure, in natural logarithms; neither is negative."""

    below_log: float
    above_log: float


def lognormal_estimate(*, median: float, sd_log: float) -> Estimate:
    """Give the interval of a figure whose logarithm is normal.

    low, high = median exp(-+1.645 sd).

    Args:
        median: the figure, in any unit. [as the figure] 0..1e12
        sd_log: standard deviation of its natural logarithm. [-] 0..3

    Returns:
        The figure with its 5th and 95th percentile. [as the figure]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: definition of the lognormal distribution; no empirical constant.

    >>> lognormal_estimate(median=5.4, sd_log=0.04)
    Estimate(estimate=5.4, low=5.056, high=5.767, confidence=0.9)

    """
    between("median", median, 0, LARGEST_VALUE, "")
    between("sd_log", sd_log, 0, WIDEST_SD_LOG, "")
    reach = math.exp(NORMAL_95TH * sd_log)
    return Estimate(median, median / reach, median * reach)


def estimate_from_half_widths(*, estimate: float, half_widths: HalfWidths) -> Estimate:
    """Put an uneven interval around a figure.

    low = estimate exp(-below), high = estimate exp(above).

    Args:
        estimate: the figure, in any unit. [as the figure] 0..1e12
        half_widths: how far the interval reaches, in natural logarithms. [-] 0..inf

    Returns:
        The figure with its interval. [as the figure]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: definition; no empirical constant.

    >>> estimate_from_half_widths(estimate=10.0, half_widths=HalfWidths(below_log=0.1, above_log=0.2))
    Estimate(estimate=10.0, low=9.048, high=12.214, confidence=0.9)

    """
    between("estimate", estimate, 0, LARGEST_VALUE, "")
    below, above = half_widths.below_log, half_widths.above_log
    return Estimate(estimate, estimate * math.exp(-below), estimate * math.exp(above))


def sd_log_from_cv(*, cv_percent: float) -> float:
    """Turn a coefficient of variation into the standard deviation of the logarithm.

    sd = sqrt(ln(1 + cv^2)), exact for a lognormal figure.

    Args:
        cv_percent: standard deviation as a share of the mean. [%] 0..200

    Returns:
        Standard deviation of the natural logarithm. [-]

    Raises:
        OutOfRange: the coefficient lies outside the range beside it.

    Source: moments of the lognormal distribution; no empirical constant.

    >>> sd_log_from_cv(cv_percent=2.8)
    0.0279945

    """
    between("cv_percent", cv_percent, 0, 200, "%")
    return math.sqrt(math.log1p((cv_percent / 100) ** 2))


def sd_log_from_interval(*, low: float, high: float) -> float:
    """Turn a 5th to 95th percentile interval into the standard deviation of the logarithm.

    sd = ln(high/low)/(2 * 1.645).

    Args:
        low: the 5th percentile. [as the figure] 1e-12..1e12
        high: the 95th percentile, not under `low`. [as the figure] 1e-12..1e12

    Returns:
        Standard deviation of the natural logarithm. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: definition of the lognormal distribution; no empirical constant.

    >>> sd_log_from_interval(low=5.056, high=5.767)
    0.0400

    """
    between("low", low, 1 / LARGEST_VALUE, LARGEST_VALUE, "")
    between("high", high, low, LARGEST_VALUE, "")
    return math.log(high / low) / (2 * NORMAL_95TH)


def sd_log_from_stated_uncertainty(*, value: float, plus_minus: float, coverage_factor: float = 2.0) -> float:
    """Turn a laboratory's own "value plus or minus" into the standard deviation of the logarithm.

    cv = plus_minus/(coverage factor * value), then as for a coefficient of variation.

    Args:
        value: the figure reported. [as the figure] 1e-12..1e12
        plus_minus: the expanded uncertainty beside it, in the same unit. [as the figure] 0..1e12
        coverage_factor: standard deviations that it spans; 2 unless the report says otherwise. [-] 1..4

    Returns:
        Standard deviation of the natural logarithm. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the uncertainty exceeds the value.

    Source: JCGM 100:2008, Guide to the expression of uncertainty in measurement, clause 6 (expanded
    uncertainty).

    >>> sd_log_from_stated_uncertainty(value=5.4, plus_minus=0.3)
    0.0278

    """
    between("value", value, 1 / LARGEST_VALUE, LARGEST_VALUE, "")
    between("plus_minus", plus_minus, 0, value, "")
    between("coverage_factor", coverage_factor, 1, 4, "")
    return sd_log_from_cv(cv_percent=100 * plus_minus / (coverage_factor * value))


def combine_sd_log(*, sds_log: Sequence[float]) -> float:
    """Add independent scatters in quadrature.

    sd = sqrt(sum of squares).

    Args:
        sds_log: standard deviations of natural logarithms, one per independent source. [-] 0..3

    Returns:
        Standard deviation of the logarithm of the product; 0 of none. [-]

    Raises:
        OutOfRange: an element lies outside the range beside it.

    Source: variance of a sum of independent quantities; no empirical constant.

    >>> combine_sd_log(sds_log=[0.03, 0.04])
    0.05

    """
    for sd_log in sds_log:
        between("sds_log", sd_log, 0, WIDEST_SD_LOG, "")
    return math.hypot(*sds_log)


def combine_half_widths(*, parts: Sequence[HalfWidths]) -> HalfWidths:
    """Add independent uneven intervals in quadrature, each side for itself.

    Args:
        parts: half-widths in natural logarithms, one per independent source. [-] 0..inf

    Returns:
        The half-widths of the whole; both 0 of none. [-]

    Source: quadrature, side by side; a convention for uneven intervals, no empirical constant.

    >>> combine_half_widths(parts=[HalfWidths(0.3, 0.6), HalfWidths(0.4, 0.8)])
    HalfWidths(below_log=0.5, above_log=1.0)

    """
    return HalfWidths(
        math.hypot(*(part.below_log for part in parts)), math.hypot(*(part.above_log for part in parts))
    )


def half_widths_from_sd(*, sd_log: float) -> HalfWidths:
    """Give the even half-widths of a lognormal figure.

    Args:
        sd_log: standard deviation of the natural logarithm. [-] 0..3

    Returns:
        1.645 standard deviations to each side. [-]

    Raises:
        OutOfRange: the standard deviation lies outside the range beside it.

    Source: definition of the normal distribution; no empirical constant.

    >>> half_widths_from_sd(sd_log=0.04)
    HalfWidths(below_log=0.0658, above_log=0.0658)

    """
    between("sd_log", sd_log, 0, WIDEST_SD_LOG, "")
    return HalfWidths(NORMAL_95TH * sd_log, NORMAL_95TH * sd_log)


def student_95th(*, degrees_of_freedom: float) -> float:
    """Give how many standard deviations reach to the 95th percentile when the deviation itself was estimated.

    The 95th percentile of Student's t: 2.92 at two degrees of freedom, near 1.645 at many.

    Args:
        degrees_of_freedom: observations less the figures fitted to them. [-] 1..1000000

    Returns:
        The percentile, in estimated standard deviations. [-]

    Raises:
        OutOfRange: the degrees of freedom lie outside the range beside it.

    Source: Student 1908, The probable error of a mean, Biometrika 6:1-25.

    >>> student_95th(degrees_of_freedom=2)
    2.920

    """
    from scipy.special import stdtrit  # noqa: PLC0415 -- slow import

    between("degrees_of_freedom", degrees_of_freedom, 1, 1_000_000, "")
    return float(stdtrit(degrees_of_freedom, 0.95))


def sampling_sd_log(*, cv_percent: float, packages_cored: int) -> float:
    """Give the scatter of a mixed sample about the lot it stands for.

    A sample mixed from n packages averages their scatter: sd = sd of one package/sqrt(n). Whole cones
    vary between and within bales (`BALE_CV_PERCENT`, quoted); a run of pellets is homogenised and
    narrow, by a house figure that the caller gives.

    Args:
        cv_percent: scatter between packages of this form, one standard deviation. [%] 0..200
        packages_cored: packages the sample was drawn from. [packages] 1..100000

    Returns:
        Standard deviation of the natural logarithm. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: standard error of a mean; the scatter of bales: Verzele & De Keukeleire, p. 331 (quoted).

    >>> sampling_sd_log(cv_percent=BALE_CV_PERCENT, packages_cored=4)
    0.0868

    """
    between("packages_cored", packages_cored, 1, MOST_PACKAGES, "packages")
    return sd_log_from_cv(cv_percent=cv_percent) / math.sqrt(packages_cored)
