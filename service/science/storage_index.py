"""The hop storage index: what it says of the resins lost, and where it stands after storage.

Some old texts write the same letters for the per cent of alpha lost in six months; a figure of that size is
refused with a hint. Points of loss count from the fresh alpha + beta, not from alpha or the last analysis.
"""

import math
from typing import NamedTuple

from service.errors import OutOfRange
from service.science.checks import between

# Slope, baseline and logarithm to base 10: M. Garetz 1994, Brewing Techniques 2(1).
SLOPE_PERCENT = 110.0
BASELINE_INDEX = 0.25

LOWEST_INDEX = 0.01
HIGHEST_INDEX = 2.03
BASELINE_RANGE = (0.15, 0.40)
SLOPE_RANGE_PERCENT = (90.0, 130.0)
LARGEST_LOG_LOSS = 10_000.0
# A floor under every logarithm of what is left, so that a limit that all hops meet is still a number.
FLOOR_LOG = -20_000.0


class ShownLoss(NamedTuple):
    """A loss as people read it, and whether a negative one was shown as 0."""

    percent: float
    was_negative: bool


def check_hop_storage_index(*, hop_storage_index: float) -> None:
    """Refuse what cannot be a hop storage index, and say when it looks like the other quantity.

    Args:
        hop_storage_index: A275/A325. [-] 0.01..2.03

    Raises:
        OutOfRange: it lies outside the range beside it; from 10 to 80 the message names the likely mix-up.

    Source: the formula reaches 100 % lost at 2.028 (M. Garetz 1994, Brewing Techniques 2(1)).

    >>> check_hop_storage_index(hop_storage_index=0.27)
    >>> check_hop_storage_index(hop_storage_index=35.0)
    Traceback (most recent call last):
    service.errors.OutOfRange: hop_storage_index 35 looks like % lost in 6 months, not A275/A325 (0.01..2.03)

    """
    if isinstance(hop_storage_index, int | float) and 10 <= hop_storage_index <= 80:
        raise _refused(
            f"hop_storage_index {hop_storage_index:g} looks like % lost in 6 months, not A275/A325"
            f" ({LOWEST_INDEX:g}..{HIGHEST_INDEX:g})",
            hop_storage_index,
            HIGHEST_INDEX,
        )
    between("hop_storage_index", hop_storage_index, LOWEST_INDEX, HIGHEST_INDEX, "")


def resin_loss_percent(
    *, hop_storage_index: float, baseline_index: float = BASELINE_INDEX, slope_percent: float = SLOPE_PERCENT
) -> float:
    """Give the points of the fresh alpha + beta that an index says are lost.

    loss = 110 log10(HSI/0.25); not clamped, so an index under the baseline gives a negative loss.

    Args:
        hop_storage_index: A275/A325. [-] 0.01..2.03
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4
        slope_percent: points per tenfold of the index; 110 rounds the mean of four crop years. [%] 90..130

    Returns:
        Points of the fresh alpha + beta lost. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: G. B. Nickerson, S. T. Likens 1979, J. ASBC 37:184-187 (form); M. Garetz 1994, Brewing
    Techniques 2(1) (110, 0.25).

    >>> resin_loss_percent(hop_storage_index=0.30)
    8.71

    """
    check_hop_storage_index(hop_storage_index=hop_storage_index)
    check_constants(baseline_index, slope_percent)
    return slope_percent * math.log10(hop_storage_index / baseline_index)


def shown_resin_loss_percent(
    *, hop_storage_index: float, baseline_index: float = BASELINE_INDEX
) -> ShownLoss:
    """Give the loss as people read it: a negative one is shown as 0, and said.

    Args:
        hop_storage_index: A275/A325. [-] 0.01..2.03
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        The points lost, 0 at the least, and whether the formula gave a negative figure. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: as `resin_loss_percent`; the published worked example itself (ASBC Hops-6) has an index under
    0.25.

    >>> shown_resin_loss_percent(hop_storage_index=0.2215)
    ShownLoss(percent=0.0, was_negative=True)

    """
    loss_percent = resin_loss_percent(hop_storage_index=hop_storage_index, baseline_index=baseline_index)
    return ShownLoss(max(loss_percent, 0.0), was_negative=loss_percent < 0)


def index_from_resin_loss(*, resin_loss_percent: float, baseline_index: float = BASELINE_INDEX) -> float:
    """Give the index at which the formula says so many points are lost.

    HSI = 0.25 * 10^(loss/110).

    Args:
        resin_loss_percent: points of the fresh alpha + beta lost; negative under the baseline. [%] -180..100
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        The index. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: inverse of `resin_loss_percent`.

    >>> index_from_resin_loss(resin_loss_percent=50)
    0.712

    """
    between("resin_loss_percent", resin_loss_percent, -180, 100, "%")
    check_constants(baseline_index, SLOPE_PERCENT)
    return baseline_index * math.pow(10, resin_loss_percent / SLOPE_PERCENT)


def alpha_left_between_indices_percent(
    *, alpha_then_percent: float, index_then: float, index_now: float, baseline_index: float = BASELINE_INDEX
) -> float:
    """Carry an alpha figure from one index to a later one by the ratio of what is left, never a difference.

    alpha_now = alpha_then (100 - loss_now)/(100 - loss_then); takes alpha and beta to fall alike.

    Args:
        alpha_then_percent: alpha when the first index was measured. [%] 0..100
        index_then: the index that stood beside that alpha. [-] 0.01..2.02
        index_now: the later index. [-] 0.01..2.02
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        Alpha at the later index. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or says that nothing is left.

    Source: ratio of the remaining fractions of `resin_loss_percent`.

    >>> alpha_left_between_indices_percent(alpha_then_percent=10, index_then=0.3, index_now=0.4)
    8.495

    """
    between("alpha_then_percent", alpha_then_percent, 0, 100, "%")
    then_log = log_resin_left(hop_storage_index=index_then, baseline_index=baseline_index)
    now_log = log_resin_left(hop_storage_index=index_now, baseline_index=baseline_index)
    return alpha_then_percent * math.exp(now_log - then_log)


def log_resin_left(*, hop_storage_index: float, baseline_index: float = BASELINE_INDEX) -> float:
    """Give the logarithm of the share of fresh alpha + beta that an index says is left.

    ln R, R = 1 - loss/100; not clamped, so a fresh index under the baseline gives R over 1. First-order
    storage makes ln R fall in a straight line with the days.

    Args:
        hop_storage_index: A275/A325. [-] 0.01..2.02
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        The natural logarithm of the share left. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the index says that nothing is left.

    Source: as `resin_loss_percent`.

    >>> log_resin_left(hop_storage_index=0.30)
    -0.0911

    """
    return math.log1p(-_loss_below_all(hop_storage_index, baseline_index) / 100)


def log_resin_left_limit(*, hop_storage_index_max: float, baseline_index: float = BASELINE_INDEX) -> float:
    """Turn a highest index into the least logarithm of resin left, so that a limit on a day is linear in
    days.

    A lot passes while its ln R is not under this number.

    Args:
        hop_storage_index_max: the highest index that passes. [-] 0.01..2.03
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        The least natural logarithm of the share left; -20000 where every lot passes. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: as `resin_loss_percent`.

    >>> log_resin_left_limit(hop_storage_index_max=0.40)
    -0.2542

    """
    loss_percent = resin_loss_percent(hop_storage_index=hop_storage_index_max, baseline_index=baseline_index)
    return math.log1p(-loss_percent / 100) if loss_percent < 100 else FLOOR_LOG


def index_from_log_resin_left(*, log_resin_left: float, baseline_index: float = BASELINE_INDEX) -> float:
    """Turn the logarithm of the share of alpha + beta left back into an index.

    loss = 100 (1 - exp(ln R)); HSI = 0.25 * 10^(loss/110).

    Args:
        log_resin_left: natural logarithm of the share left, as `log_resin_left` gives it. [-] -20000..1.05
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        The index. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: inverse of `log_resin_left`.

    >>> index_from_log_resin_left(log_resin_left=-0.0911)
    0.300

    """
    between("log_resin_left", log_resin_left, FLOOR_LOG, 1.05, "")
    return index_from_resin_loss(
        resin_loss_percent=-100 * math.expm1(log_resin_left), baseline_index=baseline_index
    )


def index_after_storage(
    *, hop_storage_index: float, log_loss: float, baseline_index: float = BASELINE_INDEX
) -> float:
    """Carry an index through storage.

    The share of alpha + beta left, R = 1 - loss/100, falls with exp(-log_loss), and gives the index back.
    The start is not clamped, so that no time at all gives the measured index.

    Args:
        hop_storage_index: the measured index. [-] 0.01..2.02
        log_loss: the exponent of first-order loss, as `service.science.storage.log_loss` gives it. [-] 0..10000
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        The index after storage. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: `resin_loss_percent` with the rate of M. Garetz 1994; takes beta to fall like alpha.

    >>> index_after_storage(hop_storage_index=0.25, log_loss=0.11552)
    0.314

    """
    between("log_loss", log_loss, 0, LARGEST_LOG_LOSS, "")
    left = log_resin_left(hop_storage_index=hop_storage_index, baseline_index=baseline_index) - log_loss
    return index_from_log_resin_left(log_resin_left=left, baseline_index=baseline_index)


def check_constants(baseline_index: float, slope_percent: float) -> None:
    """Refuse a baseline or a slope that no published figure comes near."""
    between("baseline_index", baseline_index, *BASELINE_RANGE, "")
    between("slope_percent", slope_percent, *SLOPE_RANGE_PERCENT, "%")


def _loss_below_all(hop_storage_index: float, baseline_index: float) -> float:
    loss_percent = resin_loss_percent(hop_storage_index=hop_storage_index, baseline_index=baseline_index)
    if loss_percent >= 100:
        raise _refused(
            f"hop_storage_index {hop_storage_index:g} says that all alpha and beta acids are lost;"
            " there is nothing left to reckon with",
            hop_storage_index,
            baseline_index * math.pow(10, 100 / SLOPE_PERCENT),
        )
    return loss_percent


def _refused(detail: str, value: float, high: float) -> OutOfRange:
    return OutOfRange(detail, name="hop_storage_index", value=value, low=LOWEST_INDEX, high=high, unit="")
