"""The guard at the gate of every formula that takes many numbers at once."""

import numpy as np

from service.errors import OutOfRange
from service.science.arrays import Numbers
from service.science.checks import between

# Small enough to stay in the processor's cache between the two looks at it.
BLOCK = 65_536


def between_all(name: str, values: Numbers, low: float, high: float, unit: str) -> None:
    """Refuse an array that is empty, not of numbers, or has an element outside ``low..high``, or NaN.

    Raises:
        OutOfRange: as said; the first offending element is named.

    >>> between_all("alpha_percent", np.array([5.4, 130.0]), 0, 100, "%")
    Traceback (most recent call last):
    service.errors.OutOfRange: alpha_percent must be 0 to 100 %, not 130

    """
    array = np.asarray(values)
    if array.size == 0 or array.dtype.kind not in "iuf":
        raise OutOfRange(
            f"{name} must be one or more numbers", name=name, value=None, low=low, high=high, unit=unit
        )
    # The least and the largest are NaN when any element is, so they judge all elements.
    least, largest = _ends(array)
    if low <= least and largest <= high:
        return
    inside = (array >= low) & (array <= high)
    between(name, float(array[~inside].flat[0]), low, high, unit)


def _ends(array: Numbers) -> tuple[float, float]:
    if array.size <= BLOCK:
        return array.min(), array.max()
    flat = array.ravel()
    blocks = [flat[start : start + BLOCK] for start in range(0, flat.size, BLOCK)]
    ends = np.array([(block.min(), block.max()) for block in blocks])
    return ends[:, 0].min(), ends[:, 1].max()
