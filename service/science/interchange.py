"""The arithmetic of exchanging hop data with other programs: amounts, durations, and two figures kept apart.

Two quantities go by the letters HSI. The laboratory's Hop Storage Index is A275/A325, a pure number from
about 0.2 to 2; an older open format uses the same letters for the percentage of alpha acids lost in six
months. They are never turned into one another.
"""

from service.errors import OutOfRange
from service.science.checks import between
from service.science.customary import G_PER_OZ, KG_PER_LB

GRAMS_BY_UNIT = {"mg": 0.001, "g": 1.0, "kg": 1000.0, "lb": 1000 * KG_PER_LB, "oz": G_PER_OZ}
MINUTES_BY_UNIT = {"sec": 1 / 60, "min": 1.0, "hr": 60.0, "day": 1440.0, "week": 10_080.0}

# HSI at which the loss formula reaches 100 %: 0.25 * 10^(100/110), Nickerson & Likens 1979; Garetz 1994.
HIGHEST_STORAGE_INDEX = 2.03


def amount_g(*, value: float, unit: str) -> float:
    """Give an amount of hops in grams.

    g = value * grams of the unit.

    Args:
        value: the amount in the unit named. [-] 0..1000000000
        unit: one of mg, g, kg, lb, oz. [-] any

    Returns:
        The mass. [g]

    Raises:
        OutOfRange: the value lies outside the range beside it, or the unit is no unit of mass known here.

    Source: NIST Handbook 44, Appendix C, for lb and oz; exact by definition.

    >>> amount_g(value=0.0425, unit="kg")
    42.5

    """
    between("value", value, 0, 1e9, unit)
    return value * _factor("unit", unit, GRAMS_BY_UNIT)


def duration_minutes(*, value: float, unit: str) -> float:
    """Give a duration in minutes.

    min = value * minutes of the unit.

    Args:
        value: the duration in the unit named. [-] 0..1000000
        unit: one of sec, min, hr, day, week. [-] any

    Returns:
        The duration. [min]

    Raises:
        OutOfRange: the value lies outside the range beside it, or the unit is no unit of time known here.

    Source: definition of the units; exact.

    >>> duration_minutes(value=3, unit="day")
    4320.0

    """
    between("value", value, 0, 1e6, unit)
    return value * _factor("unit", unit, MINUTES_BY_UNIT)


def percent_lost(
    *, lost_in_six_months_percent: float | None, hop_storage_index: float | None
) -> float | None:
    """Give what belongs into a field for the alpha acids lost in six months, and never the storage index.

    The percentage passes through; the index is looked at only to refuse a percentage sent in its place.

    Args:
        lost_in_six_months_percent: alpha acids lost in six months at 20 °C, or None. [%] 0..100
        hop_storage_index: A275/A325 of the same lot, or None. [-] 0..2.03

    Returns:
        The percentage, or None where none is known: the index does not stand in for it. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it; an index of 10 to 80 is a percentage.

    Source: ASBC Hops-12 for the index; BeerJSON hop schema for the percentage; no formula joins the two.

    >>> percent_lost(lost_in_six_months_percent=25, hop_storage_index=0.3)
    25

    """
    if hop_storage_index is not None:
        between("hop_storage_index", hop_storage_index, 0, HIGHEST_STORAGE_INDEX, "")
    if lost_in_six_months_percent is None:
        return None
    between("lost_in_six_months_percent", lost_in_six_months_percent, 0, 100, "%")
    return lost_in_six_months_percent


def _factor(name: str, unit: str, factor_by_unit: dict[str, float]) -> float:
    if unit not in factor_by_unit:
        known = ", ".join(factor_by_unit)
        raise OutOfRange(f"{name} must be one of {known}, not {unit!r}", name=name, value=None, unit="")
    return factor_by_unit[unit]
