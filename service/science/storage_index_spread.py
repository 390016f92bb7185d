"""How far the hop storage index, and what is read from it, may be off."""

import math

from service.science.checks import between
from service.science.storage_index import (
    BASELINE_INDEX,
    SLOPE_PERCENT,
    index_after_storage,
    resin_loss_percent,
)
from service.science.uncertainty import (
    Estimate,
    HalfWidths,
    combine_half_widths,
    estimate_from_half_widths,
    half_widths_from_sd,
)

# Slopes of four crop years: G. B. Nickerson, S. T. Likens 1979, Hop Storage Index, J. ASBC 37:184-187.
CROP_YEAR_SLOPES_PERCENT = {1969: 101.8, 1975: 111.3, 1976: 114.5, 1977: 114.6}


def resin_loss_by_crop_year_percent(
    *, hop_storage_index: float, baseline_index: float = BASELINE_INDEX
) -> Estimate:
    """Give the loss by the usual slope, between the least and the largest slope of four crop years.

    Args:
        hop_storage_index: A275/A325. [-] 0.01..2.03
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        The loss, with the spread of the crop years as its interval (the four years, not a percentile). [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: G. B. Nickerson, S. T. Likens 1979, J. ASBC 37:184-187.

    >>> resin_loss_by_crop_year_percent(hop_storage_index=0.50)
    Estimate(estimate=33.11, low=30.64, high=34.50, confidence=0.9)

    """
    per_slope = resin_loss_percent(hop_storage_index=hop_storage_index, baseline_index=baseline_index)
    slopes = CROP_YEAR_SLOPES_PERCENT.values()
    ends = sorted(per_slope / SLOPE_PERCENT * slope for slope in (min(slopes), max(slopes)))
    return Estimate(per_slope, ends[0], ends[1])


def resin_loss_sd_points(*, cv_percent: float) -> float:
    """Give the scatter of the loss that comes from the scatter of the index.

    u = 110 log10(1 + CV), the same at any index.

    Args:
        cv_percent: one standard deviation of the index as a share of it. [%] 0..100

    Returns:
        One standard deviation of the loss. [points]

    Raises:
        OutOfRange: the coefficient lies outside the range beside it.

    Source: arithmetic on G. B. Nickerson, S. T. Likens 1979, J. ASBC 37:184-187 (CV 1.3 % within, 2.8 %
    between laboratories).

    >>> resin_loss_sd_points(cv_percent=2.8)
    1.32

    """
    between("cv_percent", cv_percent, 0, 100, "%")
    return SLOPE_PERCENT * math.log10(1 + cv_percent / 100)


def index_after_storage_estimate(
    *,
    hop_storage_index: float,
    index_sd_log: float,
    log_loss: Estimate,
    baseline_index: float = BASELINE_INDEX,
) -> Estimate:
    """Carry an index through storage, with its interval.

    The scatter of the measurement shrinks by exp(-log_loss), the slope of the curve; the ends of the
    storage exponent give the other part; both add in quadrature in ln HSI, and nothing passes the index at
    which all is lost.

    Args:
        hop_storage_index: the measured index. [-] 0.01..2.02
        index_sd_log: scatter of the measurement and its sample, in natural logarithms. [-] 0..3
        log_loss: the exponent of first-order loss with its interval. [-] 0..10000
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        The index after storage with its 5th and 95th percentile. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: as `index_after_storage`; delta method for the measurement's scatter.

    >>> index_after_storage_estimate(
    ...     hop_storage_index=0.25, index_sd_log=0.028, log_loss=Estimate(0.11552, 0.06, 0.17))
    Estimate(estimate=0.314, low=0.280, high=0.350, confidence=0.9)

    """
    index, least, most = (
        index_after_storage(
            hop_storage_index=hop_storage_index, log_loss=exponent, baseline_index=baseline_index
        )
        for exponent in (log_loss.estimate, log_loss.low, log_loss.high)
    )
    measured = half_widths_from_sd(sd_log=index_sd_log * math.exp(-log_loss.estimate))
    stored = HalfWidths(below_log=math.log(index / least), above_log=math.log(most / index))
    whole = estimate_from_half_widths(
        estimate=index, half_widths=combine_half_widths(parts=[measured, stored])
    )
    all_lost = baseline_index * math.pow(10, 100 / SLOPE_PERCENT)
    return Estimate(index, whole.low, min(whole.high, all_lost))
