"""A lot's own rate of loss, learnt from repeat analyses.

Bayes' rule: the cultivar's rate is the prior, lognormal and so never negative; two or more reports of the
lot are the evidence. Their common starting level is unknown and integrated out exactly; the posterior of
the rate stands on a grid. What is learnt holds for the rate and the stated packing together: the evidence
cannot tell one from the other.
"""

import math
from collections.abc import Callable, Sequence

import numpy as np

from service.errors import UnlikeReports
from service.facts import Fact
from service.science.arrays import Numbers
from service.science.checks import between
from service.science.storage_index import (
    BASELINE_INDEX,
    SLOPE_PERCENT,
    check_hop_storage_index,
    log_resin_left,
)
from service.science.uncertainty import Estimate, lognormal_estimate, sd_log_from_interval

GRID_POINTS = 4001
# Beyond so many prior standard deviations nothing is looked for.
PRIOR_REACH_SD = 9.0
# Where the density fell by exp(-40) below its peak nothing is left to integrate.
NEGLIGIBLE_LOG = 40.0
LEAST_SD_LOG = 0.002
LARGEST_SD_LOG = 1.0
LONGEST_EFFECTIVE_DAYS = 40_000.0


class RepeatReport(Fact, frozen=True, kw_only=True):
    """One analysis of the lot: alpha in per cent or a storage index, and the store it had behind it.

    `effective_days` count at 20 °C, unprotected, from any day that is the same for all reports of the lot;
    `sd_log` is the scatter of method and sample in natural logarithms; `method_family` names methods that
    may be compared, such as hplc.
    """

    value: float
    sd_log: float
    effective_days: float
    form: str
    method_family: str


class LearntRate(Fact, frozen=True, kw_only=True):
    """What was believed, what the reports say by themselves, and what follows; rates at 20 °C, unprotected.

    The evidence alone may be negative, when a later report reads higher; the result never is.
    """

    prior: Estimate
    evidence_rate_per_day: float
    evidence_sd_per_day: float
    result: Estimate
    reports: int
    is_surprising: bool


def learn_rate_from_alpha(*, prior_rate_per_day: Estimate, reports: Sequence[RepeatReport]) -> LearntRate:
    """Learn a lot's rate of loss from repeat analyses of alpha.

    ln(alpha_i) = a - k x_i + error_i, x in effective days; a flat, k lognormal about the cultivar's rate.

    Args:
        prior_rate_per_day: the cultivar's rate at 20 °C, unprotected, with its interval. [1/d] 1e-9..1
        reports: two or more analyses of one form by like methods, alpha of 0.01 to 100 %. [-]

    Returns:
        Prior, evidence and the median rate with its 5th and 95th percentile. [1/d]

    Raises:
        UnlikeReports: forms or methods differ, there are fewer than two, or none lay longer than another.
        OutOfRange: a figure lies outside its range.

    Source: Bayes' rule; M. Garetz 1994, Brewing Techniques 2(1) (first-order loss).

    >>> learnt = learn_rate_from_alpha(
    ...     prior_rate_per_day=Estimate(0.0020, 0.0010, 0.0040),
    ...     reports=[
    ...         RepeatReport(value=value, sd_log=0.04, effective_days=days, form="pellet",
    ...                      method_family="hplc")
    ...         for value, days in [(6.0, 0), (4.5, 100)]])
    >>> learnt.result
    Estimate(estimate=0.00260, low=0.00177, high=0.00347, confidence=0.9)

    """
    days, sd_log = _accepted(reports)
    for report in reports:
        between("value", report.value, 0.01, 100, "%")
    level = np.log(np.array([report.value for report in reports]))
    weights = 1 / np.square(sd_log)

    def log_likelihood(rates: Numbers) -> Numbers:
        residuals = level + np.outer(rates, days)
        middles = residuals @ weights / weights.sum()
        likelihood: Numbers = -0.5 * (np.square(residuals - middles[:, None]) @ weights)
        return likelihood

    return _learnt(prior_rate_per_day, log_likelihood, _slope(level, days, weights), len(reports))


def learn_rate_from_index(
    *,
    prior_rate_per_day: Estimate,
    reports: Sequence[RepeatReport],
    baseline_index: float = BASELINE_INDEX,
) -> LearntRate:
    """Learn a lot's rate of loss from repeat analyses of the hop storage index.

    The share of alpha + beta left, R = 1 - 1.1 log10(HSI/0.25), falls as A exp(-k x); an error of the index
    is an even error of R. A flat, k lognormal about the cultivar's rate; takes beta to fall at the rate of
    alpha.

    Args:
        prior_rate_per_day: the cultivar's rate at 20 °C, unprotected, with its interval. [1/d] 1e-9..1
        reports: two or more analyses of one form by like methods, indices of 0.01 to 2.02. [-]
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        Prior, evidence and the median rate with its 5th and 95th percentile. [1/d]

    Raises:
        UnlikeReports: forms or methods differ, there are fewer than two, or none lay longer than another.
        OutOfRange: a figure lies outside its range.

    Source: Bayes' rule; the storage index as `service.science.storage_index`.

    >>> learnt = learn_rate_from_index(
    ...     prior_rate_per_day=Estimate(0.0020, 0.0010, 0.0040),
    ...     reports=[
    ...         RepeatReport(value=value, sd_log=0.03, effective_days=days, form="pellet",
    ...                      method_family="ratio")
    ...         for value, days in [(0.27, 0), (0.40, 100)]])
    >>> learnt.result
    Estimate(estimate=0.00214, low=0.00176, high=0.00252, confidence=0.9)

    """
    days, sd_log = _accepted(reports)
    for report in reports:
        check_hop_storage_index(hop_storage_index=report.value)
    level = np.array(
        [log_resin_left(hop_storage_index=report.value, baseline_index=baseline_index) for report in reports]
    )
    left = np.exp(level)
    sd_left = sd_log * SLOPE_PERCENT / 100 / math.log(10)
    weights = 1 / np.square(sd_left)

    def log_likelihood(rates: Numbers) -> Numbers:
        decay = np.exp(-np.outer(rates, days))
        strength = np.square(decay) @ weights
        start = (decay * left) @ weights / strength
        misfit = np.square(left - start[:, None] * decay) @ weights
        likelihood: Numbers = -0.5 * (misfit + np.log(strength))
        return likelihood

    summary = _slope(level, days, np.square(left / sd_left))
    return _learnt(prior_rate_per_day, log_likelihood, summary, len(reports))


def rate_apart_from_packing(*, learnt: LearntRate, prior_without_packing: Estimate) -> Estimate:
    """Give the part of a learnt rate that the lot takes along into another packing.

    The reports speak of rate and packing together. Both doubts are lognormal, so the part that is the lot's
    own follows exactly: with w = s_rate^2/(s_rate^2 + s_packing^2) the logarithm moves by w times what was
    learnt, and its variance is w^2 v + w s_packing^2, never over that of the rate before.

    Args:
        learnt: what was learnt of rate and packing together; its prior holds both doubts. [-]
        prior_without_packing: the rate before, with its interval without the packing's doubt. [1/d]

    Returns:
        The lot's rate at 20 °C, unprotected, with its 5th and 95th percentile. [1/d]

    Raises:
        OutOfRange: the prior without packing is wider than the one with it, or a rate is outside its range.

    Source: conditional distribution of two independent normal quantities given their sum.

    >>> rate_apart_from_packing(
    ...     learnt=LearntRate(
    ...         prior=Estimate(0.0020, 0.0010, 0.0040), evidence_rate_per_day=0.0029,
    ...         evidence_sd_per_day=0.0006, result=Estimate(0.00260, 0.00177, 0.00347), reports=2,
    ...         is_surprising=False),
    ...     prior_without_packing=Estimate(0.0020, 0.0012, 0.0033))
    Estimate(estimate=0.00230, low=0.00156, high=0.00340, confidence=0.9)

    """
    both = sd_log_from_interval(low=learnt.prior.low, high=learnt.prior.high)
    alone = sd_log_from_interval(low=prior_without_packing.low, high=prior_without_packing.high)
    between("prior_without_packing", alone, 0, both * (1 + 1e-9), "")
    share = (alone / both) ** 2 if both > 0 else 1.0
    after = sd_log_from_interval(low=learnt.result.low, high=learnt.result.high)
    moved = share * math.log(learnt.result.estimate / learnt.prior.estimate)
    variance = (share * after) ** 2 + share * max(both**2 - alone**2, 0.0)
    return lognormal_estimate(
        median=prior_without_packing.estimate * math.exp(moved), sd_log=math.sqrt(variance)
    )


def _accepted(reports: Sequence[RepeatReport]) -> tuple[Numbers, Numbers]:
    if len(reports) < 2:
        raise UnlikeReports("a rate is learnt from two reports or more", reports=len(reports))
    for what, kinds in (
        ("form", {report.form for report in reports}),
        ("method", {report.method_family for report in reports}),
    ):
        if len(kinds) > 1:
            said = " and ".join(sorted(kinds))
            raise UnlikeReports(f"the reports differ in {what} ({said}) and cannot be compared", differs=what)
    for report in reports:
        between("effective_days", report.effective_days, 0, LONGEST_EFFECTIVE_DAYS, "d")
        between("sd_log", report.sd_log, LEAST_SD_LOG, LARGEST_SD_LOG, "")
    days = np.array([report.effective_days for report in reports], dtype=np.float64)
    if np.ptp(days) == 0:
        raise UnlikeReports("all samples had the same time in store; nothing can be learnt", differs="time")
    return days - days.min(), np.array([report.sd_log for report in reports], dtype=np.float64)


def _slope(level: Numbers, days: Numbers, weights: Numbers) -> tuple[float, float]:
    """Fit ln(what is left) by weighted least squares: the rate by the reports alone, and its scatter."""
    centred = days - float(days @ weights / weights.sum())
    strength = float(np.square(centred) @ weights)
    return -float((centred * level) @ weights) / strength, 1 / math.sqrt(strength)


def _learnt(
    prior: Estimate, log_likelihood: Callable[[Numbers], Numbers], evidence: tuple[float, float], reports: int
) -> LearntRate:
    between("prior_rate_per_day", prior.estimate, 1e-9, 1, "1/d")
    sd_log = max(sd_log_from_interval(low=prior.low, high=prior.high), LEAST_SD_LOG)
    middle = math.log(prior.estimate)

    def log_density(log_rates: Numbers) -> Numbers:
        prior_part = -0.5 * np.square((log_rates - middle) / sd_log)
        density: Numbers = prior_part + log_likelihood(np.exp(log_rates))
        return density

    reach = PRIOR_REACH_SD * sd_log
    low, median, high = _percentiles(log_density, middle - reach, middle + reach)
    rate, scatter = evidence
    # The prior's own interval, widened by the scatter of the evidence, is where the evidence was to be
    # expected.
    return LearntRate(
        prior=prior,
        evidence_rate_per_day=rate,
        evidence_sd_per_day=scatter,
        result=Estimate(median, low, high),
        reports=reports,
        is_surprising=not prior.low - 2 * scatter <= rate <= prior.high + 2 * scatter,
    )


def _percentiles(
    log_density: Callable[[Numbers], Numbers], left: float, right: float
) -> tuple[float, float, float]:
    """Find the 5th, 50th and 95th percentile on a grid, laid a second time where the density is."""
    coarse = np.linspace(left, right, GRID_POINTS)
    heights = log_density(coarse)
    alive = np.flatnonzero(heights > heights.max() - NEGLIGIBLE_LOG)
    fine = np.linspace(coarse[max(alive[0] - 1, 0)], coarse[min(alive[-1] + 1, GRID_POINTS - 1)], GRID_POINTS)
    heights = log_density(fine)
    density = np.exp(heights - heights.max())
    cumulative = np.concatenate(([0.0], np.cumsum(density[1:] + density[:-1])))
    percentiles = np.interp([0.05, 0.5, 0.95], cumulative / cumulative[-1], fine)
    low, median, high = np.exp(percentiles).tolist()
    return low, median, high
