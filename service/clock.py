"""The clock: read here alone, handed in everywhere else."""

from collections.abc import Callable
from datetime import UTC, date, datetime

Clock = Callable[[], datetime]


def system_clock() -> datetime:
    """The moment by the machine's clock, in UTC."""
    return datetime.now(UTC)  # noqa: TID251 -- the one place that reads it


def clock_from(start: date | datetime | None, machine: Clock = system_clock) -> Clock:
    """A clock that runs with the machine's: as it is, on a fixed date, or from a moment on.

    Args:
        start: None for the machine's own time; a date that stays while the time of day runs; or a moment, from which
            the clock runs on.
        machine: the clock that it runs with.

    """
    if start is None:
        return machine
    if isinstance(start, datetime):
        ahead = start - machine()
        return lambda: machine() + ahead
    return lambda: datetime.combine(start, machine().timetz())
