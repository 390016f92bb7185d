"""How far an estimate of storage loss may be off.

Every doubt about the rate is a ratio to it, so the rate never turns negative: the logarithms of the ratios
add in quadrature within a spell. All spells of a lot share most of that doubt, so lows add to lows and
highs to highs. The scatter of the laboratory and its sample then joins in quadrature in ln(alpha).

Adding half-widths in quadrature is an approximation: the tails of sums of uneven spreads are not exact. It
is fast enough for a search page, and a loss is never negative.
"""

import math
from collections.abc import Sequence

from service.facts import Fact
from service.science.checks import between
from service.science.storage import (
    LARGEST_LOSS_PERCENT,
    LARGEST_PACKING_FACTOR,
    Spell,
    effective_days_at_20_c,
    is_outside_model,
    rate_per_day,
)
from service.science.uncertainty import (
    Estimate,
    HalfWidths,
    combine_half_widths,
    estimate_from_half_widths,
    half_widths_from_sd,
)

SLOWEST_RATE_PER_DAY = 1e-9
FASTEST_RATE_PER_DAY = 1.0
LARGEST_RATIO = 1e6


class Ratio(Fact, frozen=True):
    """A doubt about a rate: the 5th and the 95th percentile of the true rate over the estimated one."""

    low: float
    high: float


NO_DOUBT = Ratio(1.0, 1.0)


def rate_estimate_per_day(
    *, lost_6_months_percent: float, low_percent: float, high_percent: float
) -> Estimate:
    """Give the rate at 20 °C, unprotected, with the interval of its six-month figure.

    k = -ln(1 - L6/100)/180, for the figure and for both ends.

    Args:
        lost_6_months_percent: alpha lost in 180 days at 20 °C, unprotected. [%] 0.0001..99
        low_percent: the least it may be, not over the figure. [%] 0..99
        high_percent: the most it may be, not under the figure. [%] 0..99

    Returns:
        The first-order rate with its interval. [1/d]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the three are out of order.

    Source: M. Garetz 1994, Brewing Techniques 2(1).

    >>> rate_estimate_per_day(lost_6_months_percent=50, low_percent=40, high_percent=60)
    Estimate(estimate=0.003851, low=0.002838, high=0.005091, confidence=0.9)

    """
    between("lost_6_months_percent", lost_6_months_percent, 1e-4, LARGEST_LOSS_PERCENT, "%")
    between("low_percent", low_percent, 0, lost_6_months_percent, "%")
    between("high_percent", high_percent, lost_6_months_percent, LARGEST_LOSS_PERCENT, "%")
    return Estimate(
        rate_per_day(lost_6_months_percent=lost_6_months_percent),
        rate_per_day(lost_6_months_percent=low_percent),
        rate_per_day(lost_6_months_percent=high_percent),
    )


def log_loss_estimate(
    *,
    spells: Sequence[Spell],
    rate_per_day: Estimate,
    rate_ratios: Sequence[Ratio] = (),
    above_20_c: Ratio = NO_DOUBT,
) -> Estimate:
    """Give the exponent of first-order loss over spells of storage, with its interval.

    In each spell the doubts about the rate, the packing factor and, above 20 °C, the temperature rule add
    in quadrature as logarithms of ratios; over the spells the lows and the highs are added up.

    Args:
        spells: times in store; packing factors may carry their interval. [-]
        rate_per_day: the lot's rate at 20 °C, unprotected: the cultivar's, or a learnt one. [1/d] 1e-9..1
        rate_ratios: further doubts that hold in every spell, such as form or acid. [-] 0..1000000
        above_20_c: doubt about the temperature rule above 20 °C, where nothing was published. [-] 0..1000000

    Returns:
        The exponent, never negative, with its 5th and 95th percentile. [-]

    Raises:
        OutOfRange: an argument or a part of a spell lies outside its range.

    Source: M. Garetz 1994, Brewing Techniques 2(1); the quadrature of ratios is a convention of this service.

    >>> log_loss_estimate(spells=[Spell(180, 20, 1.0, 0.85, 1.15)],
    ...                   rate_per_day=Estimate(0.003851, 0.002838, 0.005091))
    Estimate(estimate=0.693, low=0.490, high=0.947, confidence=0.9)

    """
    between("rate_per_day", rate_per_day.estimate, SLOWEST_RATE_PER_DAY, FASTEST_RATE_PER_DAY, "1/d")
    shared = [Ratio(rate_per_day.low / rate_per_day.estimate, rate_per_day.high / rate_per_day.estimate)]
    shared.extend(rate_ratios)
    exponent = low = high = 0.0
    for spell in spells:
        middle = rate_per_day.estimate * effective_days_at_20_c(spells=[spell])
        doubt = _combined([*shared, _packing_ratio(spell), _hot_ratio(spell, above_20_c)])
        exponent += middle
        low += middle * doubt.low
        high += middle * doubt.high
    return Estimate(exponent, low, high)


def alpha_left_estimate(*, alpha_percent: float, alpha_sd_log: float, log_loss: Estimate) -> Estimate:
    """Give an acid left after storage, with the doubts of laboratory, sample and storage together.

    A = A0 exp(-x); half-widths in ln A add in quadrature, each side for itself.

    Args:
        alpha_percent: the acid as measured; beta likewise, with its own exponent. [%] 0..100
        alpha_sd_log: scatter of laboratory and sample, in natural logarithms. [-] 0..3
        log_loss: the exponent of first-order loss with its interval, as `log_loss_estimate` gives it. [-]
            0..inf

    Returns:
        The acid left with its 5th and 95th percentile, at most 100. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: M. Garetz 1994, Brewing Techniques 2(1); quadrature in ln A.

    >>> alpha_left_estimate(alpha_percent=10.0, alpha_sd_log=0.04, log_loss=Estimate(0.693, 0.490, 0.947))
    Estimate(estimate=5.0, low=3.85, high=6.19, confidence=0.9)

    """
    between("alpha_percent", alpha_percent, 0, 100, "%")
    stored = HalfWidths(log_loss.high - log_loss.estimate, log_loss.estimate - log_loss.low)
    whole = estimate_from_half_widths(
        estimate=alpha_percent * math.exp(-log_loss.estimate),
        half_widths=combine_half_widths(parts=[half_widths_from_sd(sd_log=alpha_sd_log), stored]),
    )
    return Estimate(whole.estimate, whole.low, min(whole.high, 100.0))


def alpha_loss_percent_estimate(*, log_loss: Estimate) -> Estimate:
    """Give the share that storage took since the sample was drawn; the laboratory's scatter has no part in
    it.

    loss = 100 (1 - exp(-x)).

    Args:
        log_loss: the exponent of first-order loss with its interval. [-] 0..inf

    Returns:
        Per cent of the acid at sampling that is lost, never negative, with its interval. [%]

    Raises:
        OutOfRange: the exponent or an end of its interval is negative.

    Source: M. Garetz 1994, Brewing Techniques 2(1).

    >>> alpha_loss_percent_estimate(log_loss=Estimate(0.693, 0.490, 0.947))
    Estimate(estimate=50.0, low=38.7, high=61.2, confidence=0.9)

    """
    for exponent in (log_loss.estimate, log_loss.low, log_loss.high):
        between("log_loss", exponent, 0, math.inf, "")
    return Estimate(
        *(-100 * math.expm1(-exponent) for exponent in (log_loss.estimate, log_loss.low, log_loss.high))
    )


def _packing_ratio(spell: Spell) -> Ratio:
    factor = spell.packing_factor
    low = factor if spell.packing_factor_low is None else spell.packing_factor_low
    high = factor if spell.packing_factor_high is None else spell.packing_factor_high
    between("packing_factor_low", low, 0, factor, "")
    between("packing_factor_high", high, factor, LARGEST_PACKING_FACTOR, "")
    return Ratio(low / factor, high / factor) if factor > 0 else NO_DOUBT


def _hot_ratio(spell: Spell, above_20_c: Ratio) -> Ratio:
    share = spell.share_above_20_c
    if share is None:
        share = float(is_outside_model(temperature_c=spell.temperature_c))
    between("share_above_20_c", share, 0, 1, "")
    return Ratio(1 + share * (above_20_c.low - 1), 1 + share * (above_20_c.high - 1))


def _combined(ratios: Sequence[Ratio]) -> Ratio:
    for ratio in ratios:
        between("low ratio", ratio.low, 0, 1, "")
        between("high ratio", ratio.high, 1, LARGEST_RATIO, "")
    # A low of 0 is a rate that may be none at all; its logarithm is without bound and so is the sum.
    below = math.hypot(*(math.log(ratio.low) if ratio.low > 0 else math.inf for ratio in ratios))
    above = math.hypot(*(math.log(ratio.high) for ratio in ratios))
    return Ratio(math.exp(-below), math.exp(above))
