"""How alike a grower's lots are: robust spread, and the crop year told apart from the lot.

A few lots in a few years say little; the counts always stand beside the figures.
"""

import math
from collections.abc import Sequence
from statistics import fmean, median

from service.errors import OutOfRange
from service.facts import Fact
from service.science.checks import between

# 1/norm.ppf(0.75): makes the median of absolute deviations a standard deviation where figures are normal; a test
# compares it with a library.
MAD_TO_SD = 1.4826022185056018
LEAST_FIGURES = 2
MOST_FIGURES = 100_000
LARGEST_FIGURE = 1e9


class RobustSpread(Fact, frozen=True):
    """The middle of some figures and how far they lie around it; one odd lot hardly moves either."""

    n: int
    median: float
    robust_sd: float
    least: float
    largest: float


class YearAndLotEffect(Fact, frozen=True):
    """How much of the spread comes with the crop year, and how much lies between the lots of one year.

    `is_year_effect_hidden` says that years differ by less than their lots alone would make them; the year's spread is
    then given as 0, which does not mean that there is none.
    """

    n: int
    years: int
    mean: float
    year_sd: float
    lot_sd: float
    year_variance: float
    is_year_effect_hidden: bool


def robust_spread(*, values: Sequence[float]) -> RobustSpread:
    """Give the median and the scaled median of absolute deviations.

    s = 1.4826 median(abs(x - median(x))).

    Args:
        values: the figures of two or more lots. [as the figures]

    Returns:
        Count, median, robust standard deviation, least and largest. [as the figures]

    Raises:
        OutOfRange: fewer than two figures, or one that is no number.

    Source: definition of the median absolute deviation; the factor is that of the normal distribution.

    >>> robust_spread(values=[5.0, 5.2, 5.4, 5.6, 9.9])
    RobustSpread(n=5, median=5.4, robust_sd=0.2965, least=5.0, largest=9.9)

    """
    _accept(values)
    middle = median(values)
    return RobustSpread(
        n=len(values),
        median=middle,
        robust_sd=MAD_TO_SD * median(abs(value - middle) for value in values),
        least=min(values),
        largest=max(values),
    )


def year_and_lot_effect(*, values: Sequence[float], crop_years: Sequence[int]) -> YearAndLotEffect:
    """Tell the crop year's part of the spread from the lot's.

    One-way random model: s_lot^2 = MS within years; s_year^2 = (MS between - MS within)/n0,
    n0 = (N - sum n_i^2/N)/(years - 1).

    Args:
        values: the figures of the lots. [as the figures]
        crop_years: the crop year of each lot, in the same order; two years or more, and one of them with two lots or
            more. [-]

    Returns:
        Counts, mean, and a standard deviation for the years and one for the lots of a year. [as the figures]

    Raises:
        OutOfRange: the two differ in length, there is one year only, or no year has two lots.

    Source: analysis of variance of the one-way random model with unequal counts; no empirical constant.

    >>> effect = year_and_lot_effect(values=[5.0, 5.2, 6.0, 6.4], crop_years=[2025, 2025, 2026, 2026])
    >>> round(effect.year_sd, 4), round(effect.lot_sd, 4)
    (0.7616, 0.2236)

    """
    _accept(values)
    if len(crop_years) != len(values):
        raise _refusal("crop_years", len(crop_years), len(values), "one for each of the values")
    years: dict[int, list[float]] = {}
    for year, value in zip(crop_years, values, strict=True):
        years.setdefault(year, []).append(value)
    count, groups = len(values), list(years.values())
    if len(groups) < 2:
        raise _refusal("crop_years", len(groups), 2, "of two different years or more")
    if count == len(groups):
        raise _refusal("values", count, len(groups) + 1, "with two or more of one crop year")
    mean = fmean(values)
    means = [fmean(group) for group in groups]
    within = sum((value - m) ** 2 for group, m in zip(groups, means, strict=True) for value in group)
    between_years = sum(len(group) * (m - mean) ** 2 for group, m in zip(groups, means, strict=True))
    within_square = within / (count - len(groups))
    between_square = between_years / (len(groups) - 1)
    n0 = (count - sum(len(group) ** 2 for group in groups) / count) / (len(groups) - 1)
    year_variance = (between_square - within_square) / n0
    return YearAndLotEffect(
        n=count,
        years=len(groups),
        mean=mean,
        year_sd=math.sqrt(year_variance) if year_variance > 0 else 0.0,
        lot_sd=math.sqrt(within_square),
        year_variance=year_variance,
        is_year_effect_hidden=year_variance <= 0,
    )


def _accept(values: Sequence[float]) -> None:
    if not LEAST_FIGURES <= len(values) <= MOST_FIGURES:
        raise _refusal("values", len(values), LEAST_FIGURES, "two or more")
    for value in values:
        between("values", value, -LARGEST_FIGURE, LARGEST_FIGURE, "")


def _refusal(name: str, count: int, least: int, words: str) -> OutOfRange:
    return OutOfRange(f"{name} must be {words}, not {count}", name=name, value=count, low=least, unit="")
