"""The guard at every formula's gate."""

import math

from service.errors import OutOfRange


def between(name: str, value: float, low: float, high: float, unit: str) -> None:
    """Refuse a figure outside ``low..high`` (both included), and NaN.

    Raises:
        OutOfRange: the figure lies outside, is not a number or not finite.

    >>> between("alpha_percent", 5.4, 0, 100, "%")
    >>> between("alpha_percent", float("nan"), 0, 100, "%")
    Traceback (most recent call last):
    service.errors.OutOfRange: alpha_percent must be 0 to 100 %, not nan

    """
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise _out_of_range(name, value, low, high, unit)


def _out_of_range(name: str, value: object, low: float, high: float, unit: str) -> OutOfRange:
    shown = f"{value:g}" if isinstance(value, int | float) and not isinstance(value, bool) else repr(value)
    known = value if isinstance(value, int | float) and math.isfinite(value) else None
    space = " " if unit else ""
    return OutOfRange(
        f"{name} must be {low:g} to {high:g}{space}{unit}, not {shown}",
        name=name,
        value=known,
        low=low,
        high=high,
        unit=unit,
    )
