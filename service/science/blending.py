"""What a blend of lots holds: figures weighted by mass, and how far they may be off."""

import math
from collections.abc import Sequence

from service.errors import OutOfRange
from service.science.checks import between

LARGEST_MASS = 1e9
PARTS_MAX = 1000


def blend_percent(*, masses_kg: Sequence[float], values_percent: Sequence[float]) -> float:
    """Give the content of a blend from the contents of its parts.

    x = sum(m_i x_i)/sum(m_i): a balance of the substance. It holds only for contents on one basis, by like methods.

    Args:
        masses_kg: the mass of each part. [kg] 1e-6..1e9
        values_percent: the content of each part, in the same order. [%] 0..100

    Returns:
        The content of the whole. [%]

    Raises:
        OutOfRange: an element lies outside the range beside it, or the two lists differ in length.

    Source: mass balance; no empirical constant.

    >>> blend_percent(masses_kg=[12, 8], values_percent=[6, 7.5])
    6.6

    """
    _check(masses_kg, values_percent)
    return sum(m * x for m, x in zip(masses_kg, values_percent, strict=True)) / sum(masses_kg)


def blend_sd_log(
    *, masses_kg: Sequence[float], values_percent: Sequence[float], sds_log: Sequence[float]
) -> float:
    """Give the scatter of a blend's content from the scatters of its parts' contents.

    sd = sqrt(sum((m_i x_i sd_i)^2))/sum(m_i x_i): independent parts, to first order.

    Args:
        masses_kg: the mass of each part. [kg] 1e-6..1e9
        values_percent: the content of each part, in the same order. [%] 0..100
        sds_log: standard deviation of the natural logarithm of each content. [-] 0..3

    Returns:
        Standard deviation of the natural logarithm of the blend's content; 0 of nothing. [-]

    Raises:
        OutOfRange: an element lies outside the range beside it, or the lists differ in length.

    Source: JCGM 100:2008, Guide to the expression of uncertainty in measurement, clause 5.1.2 (independent
    inputs).

    >>> blend_sd_log(masses_kg=[10, 10], values_percent=[5, 5], sds_log=[0.1, 0.1])
    0.0707

    """
    _check(masses_kg, values_percent)
    _same_length("sds_log", sds_log, masses_kg)
    for sd_log in sds_log:
        between("sds_log", sd_log, 0, 3, "")
    parts = [m * x for m, x in zip(masses_kg, values_percent, strict=True)]
    whole = sum(parts)
    return math.hypot(*(p * sd for p, sd in zip(parts, sds_log, strict=True))) / whole if whole else 0.0


def _check(masses_kg: Sequence[float], values_percent: Sequence[float]) -> None:
    between("masses_kg", len(masses_kg), 1, PARTS_MAX, "parts")
    _same_length("values_percent", values_percent, masses_kg)
    for mass_kg in masses_kg:
        between("masses_kg", mass_kg, 1e-6, LARGEST_MASS, "kg")
    for value_percent in values_percent:
        between("values_percent", value_percent, 0, 100, "%")


def _same_length(name: str, values: Sequence[float], masses_kg: Sequence[float]) -> None:
    if len(values) != len(masses_kg):
        raise OutOfRange(
            f"{name} names {len(values)} parts, masses_kg {len(masses_kg)}",
            name=name,
            value=len(values),
            low=len(masses_kg),
            high=len(masses_kg),
            unit="parts",
        )
