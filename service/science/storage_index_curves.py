"""The hop storage index for many values at once; the scalar twins stand in `storage_index`."""

import math

import numpy as np

from service.science.arrays import Numbers
from service.science.series import between_all
from service.science.storage_index import (
    BASELINE_INDEX,
    HIGHEST_INDEX,
    LARGEST_LOG_LOSS,
    LOWEST_INDEX,
    SLOPE_PERCENT,
    check_constants,
    log_resin_left,
)


def resin_loss_percent_curve(
    *,
    hop_storage_index: Numbers,
    baseline_index: float = BASELINE_INDEX,
    slope_percent: float = SLOPE_PERCENT,
) -> Numbers:
    """Give the points of alpha + beta lost for many indices at once.

    loss as in `resin_loss_percent`, element by element.

    Args:
        hop_storage_index: A275/A325; shape (n,). [-] 0.01..2.03
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4
        slope_percent: points per tenfold of the index. [%] 90..130

    Returns:
        Points lost; shape (n,); the same numbers as the scalar function gives to 1e-12. [%]

    Raises:
        OutOfRange: an element lies outside the range beside it.

    Source: as `resin_loss_percent`.

    >>> resin_loss_percent_curve(hop_storage_index=np.array([0.25, 0.5]))
    array([ 0.  , 33.11])

    """
    between_all("hop_storage_index", hop_storage_index, LOWEST_INDEX, HIGHEST_INDEX, "")
    check_constants(baseline_index, slope_percent)
    loss: Numbers = np.log10(hop_storage_index / baseline_index)
    loss *= slope_percent
    return loss


def index_from_resin_loss_curve(
    *, resin_loss_percent: Numbers, baseline_index: float = BASELINE_INDEX
) -> Numbers:
    """Give the index for many losses at once.

    HSI as in `index_from_resin_loss`, element by element.

    Args:
        resin_loss_percent: points of the fresh alpha + beta lost; shape (n,). [%] -180..100
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        The indices; shape (n,); the same numbers as the scalar function gives to 1e-12. [-]

    Raises:
        OutOfRange: an element lies outside the range beside it.

    Source: inverse of `resin_loss_percent`.

    >>> index_from_resin_loss_curve(resin_loss_percent=np.array([0.0, 50.0]))
    array([0.25 , 0.712])

    """
    between_all("resin_loss_percent", resin_loss_percent, -180, 100, "%")
    check_constants(baseline_index, SLOPE_PERCENT)
    index: Numbers = resin_loss_percent * (math.log(10) / SLOPE_PERCENT)
    np.exp(index, out=index)
    index *= baseline_index
    return index


def index_after_storage_curve(
    *, hop_storage_index: float, log_loss: Numbers, baseline_index: float = BASELINE_INDEX
) -> Numbers:
    """Carry one index through many storage times at once.

    HSI as in `index_after_storage`, element by element.

    Args:
        hop_storage_index: the measured index. [-] 0.01..2.02
        log_loss: exponents of first-order loss; shape (n,). [-] 0..10000
        baseline_index: index of the same hops when fresh. [-] 0.15..0.4

    Returns:
        The indices; shape (n,); the same numbers as the scalar function gives to 1e-12. [-]

    Raises:
        OutOfRange: an element lies outside the range beside it.

    Source: as `index_after_storage`.

    >>> index_after_storage_curve(hop_storage_index=0.25, log_loss=np.array([0.0, 0.11552]))
    array([0.25 , 0.314])

    """
    between_all("log_loss", log_loss, 0, LARGEST_LOG_LOSS, "")
    start_log = log_resin_left(hop_storage_index=hop_storage_index, baseline_index=baseline_index)
    return index_from_resin_loss_curve(
        resin_loss_percent=-100 * np.expm1(start_log - log_loss), baseline_index=baseline_index
    )
