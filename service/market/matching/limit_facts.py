"""What a limit is: which lots keep it, how far the others are off, and the words for it."""

from collections.abc import Callable, Sequence
from decimal import Decimal

from service.facts import Fact
from service.market.matching.candidates import Floats
from service.science.arrays import Flags

Value = float | str | list[str] | None


class Limit(Fact, frozen=True, kw_only=True):
    """One limit: what is wanted, which lots keep it, how far the others are off, and what was found."""

    name: str
    wanted: Callable[[int], Value]
    holds: Flags
    # How far a lot is off, as a share of what was wanted; infinite where nothing was measured.
    off: Floats
    found: Callable[[int], Value]
    change: Callable[[int], str]


class Failure(Fact, frozen=True, kw_only=True):
    """A limit that a lot does not keep; found None was never measured."""

    limit: str
    wanted: Value
    found: Value
    change: str


def failures_of(limits: Sequence[Limit], place: int) -> tuple[Failure, ...]:
    """The limits that one lot does not keep."""
    return tuple(
        Failure(
            limit=limit.name,
            wanted=limit.wanted(place),
            found=limit.found(place),
            change=limit.change(place),
        )
        for limit in limits
        if not limit.holds[place]
    )


def written(value: float, rounding: str, step: str = "0.01") -> str:
    """The nearest number of so many decimals on one side of a figure, to the last digit and without an exponent.

    >>> written(8.2, "ROUND_CEILING"), written(12345.678, "ROUND_CEILING")
    ('8.2', '12345.68')

    """
    return f"{Decimal(repr(value)).quantize(Decimal(step), rounding=rounding).normalize():f}"
