"""What a temperature logger saw beside a lot, kept day by day."""

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from service.facts import Fact, replace

EPOCH_ORDINAL = date(1970, 1, 1).toordinal()
DAY_COLUMNS = (
    "covered_fraction",
    "effective_days_at_20_c",
    "effective_days_above_20_c",
    "mean_c",
    "coldest_c",
    "hottest_c",
)


class LoggedDay(Fact, frozen=True, kw_only=True):
    """One day as far as a logger covers it."""

    day: date
    covered_fraction: float
    effective_days_at_20_c: float
    effective_days_above_20_c: float
    mean_c: float
    coldest_c: float
    hottest_c: float


class TemperatureLog(Fact, frozen=True, kw_only=True):
    """One logger file, summed up; its moments are those of the logger's clock, in UTC where the file says so.

    `days` holds the days before the one it was filed on, column by column, without the gaps.
    """

    code: str = ""
    place: str | None = None
    file_sha256: str
    has_offsets: bool
    first_reading: str
    last_reading: str
    readings: int
    mean_c: float
    coldest_c: float
    hottest_c: float
    readings_above_20_c: int
    days_above_20_c: float
    gaps_count: int
    gaps_hours: float
    gaps: Sequence[Mapping[str, Any]]
    duplicates: int
    out_of_order: int
    rows_without_temperature_count: int
    rows_without_temperature: Sequence[int]
    days: Mapping[str, Sequence[float]]
    corrects: str | None = None
    reason: str | None = None
    corrected_by: str | None = None
    taken_back_at: datetime | None = None
    taken_back_by: str | None = None
    taken_back_reason: str | None = None
    filed_at: datetime
    filed_by: str

    @property
    def is_standing(self) -> bool:
        """Whether it drives figures: neither corrected nor taken back."""
        return self.corrected_by is None and self.taken_back_at is None

    @property
    def covered_days(self) -> float:
        """How much time its readings cover, without the gaps."""
        return sum(self.days["covered_fraction"])

    @property
    def by_day(self) -> tuple[LoggedDay, ...]:
        """Its days, in order."""
        columns = zip(self.days["day"], *(self.days[name] for name in DAY_COLUMNS), strict=True)
        return tuple(
            LoggedDay(
                day=date.fromordinal(EPOCH_ORDINAL + int(day)), **dict(zip(DAY_COLUMNS, values, strict=True))
            )
            for day, *values in columns
        )


def logs_until(logs: Sequence[TemperatureLog], day: date) -> tuple[TemperatureLog, ...]:
    """The logs as far as they speak of the days before one: what left a store is not warmed by it any more."""
    last = day.toordinal() - EPOCH_ORDINAL
    return tuple(
        replace(
            log,
            days={name: column[: bisect_left(log.days["day"], last)] for name, column in log.days.items()},
        )
        for log in logs
    )


NOTHING_LOGGED: Mapping[date, LoggedDay] = {}


def logged_days(logs: Sequence[TemperatureLog]) -> Mapping[date, LoggedDay]:
    """What the standing logs saw, by day; of two logs of one day the one that covers more of it, then the later."""
    found: dict[date, LoggedDay] = {}
    for log in logs:
        if log.is_standing:
            for day in log.by_day:
                kept = found.get(day.day)
                if kept is None or day.covered_fraction >= kept.covered_fraction:
                    found[day.day] = day
    return found
