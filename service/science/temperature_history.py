"""A temperature logger's readings, and how many days at 20 °C they amount to.

Between two readings the temperature is taken to run in a straight line, and the relative rate of loss,
2^((T - 20)/15), is integrated exactly along it. Nothing is dropped silently: gaps are bridged by the same
line and reported, as are duplicates and rows out of order; readings over 20 °C, where the rule was not
published, are counted and flagged.
"""

import math

import numpy as np

from service.errors import OutOfRange, UnreadableReadings
from service.facts import Fact
from service.science.arrays import Flags, Numbers, Places
from service.science.checks import between
from service.science.storage import COLDEST_C, HALVING_C, HOTTEST_C, LONGEST_DAYS, REFERENCE_C, Spell
from service.science.temperature_days import (
    SECONDS_PER_DAY,
    TemperatureDay,
    factor_integrals,
    spans_above_20_c,
    temperature_days,
)

SECONDS_PER_HOUR = 3_600.0
# Some 3000 years on either side of 1970: beyond, a double tells no days apart for certain.
FARTHEST_S = 1e11
# An interval counts as a gap when it is longer than this many usual (median) intervals: house rule, no
# source.
GAP_MEDIANS = 3.0


class Gap(Fact, frozen=True):
    """A stretch without readings, in seconds since 1970-01-01 of the logger's own clock."""

    began_at_s: float
    ended_at_s: float

    @property
    def hours(self) -> float:
        """How long it was."""
        return (self.ended_at_s - self.began_at_s) / SECONDS_PER_HOUR


class TemperatureHistory(Fact, frozen=True, kw_only=True):
    """What a logger's readings amount to, and what was odd about them."""

    began_at_s: float
    ended_at_s: float
    readings: int
    mean_c: float
    coldest_c: float
    hottest_c: float
    effective_days_at_20_c: float
    effective_days_above_20_c: float
    days_above_20_c: float
    readings_above_20_c: int
    gaps: tuple[Gap, ...]
    duplicates: int
    out_of_order: int
    rows_without_temperature: tuple[int, ...] = ()
    # Day by day, without the gaps.
    daily: tuple[TemperatureDay, ...] = ()

    @property
    def days(self) -> float:
        """From the first reading to the last."""
        return (self.ended_at_s - self.began_at_s) / SECONDS_PER_DAY

    @property
    def gap_hours(self) -> float:
        """Hours bridged by a straight line because readings are missing."""
        return sum(gap.hours for gap in self.gaps)

    @property
    def is_outside_model(self) -> bool:
        """Whether a part lies above 20 °C, where the temperature rule was not published."""
        return self.readings_above_20_c > 0

    @property
    def equivalent_temperature_c(self) -> float:
        """The steady temperature at which the same time would cost as much."""
        return REFERENCE_C + HALVING_C * math.log2(self.effective_days_at_20_c / self.days)

    def spell(
        self,
        *,
        packing_factor: float,
        packing_factor_low: float | None = None,
        packing_factor_high: float | None = None,
    ) -> Spell:
        """Give the whole history as one spell of storage that costs exactly as much."""
        return Spell(
            days=self.days,
            temperature_c=self.equivalent_temperature_c,
            packing_factor=packing_factor,
            packing_factor_low=packing_factor_low,
            packing_factor_high=packing_factor_high,
            share_above_20_c=self.effective_days_above_20_c / self.effective_days_at_20_c,
        )


def temperature_history(
    *,
    at_s: Numbers,
    temperature_c: Numbers,
    gap_hours: float | None = None,
    row_numbers: Places | None = None,
) -> TemperatureHistory:
    """Sum up a logger's readings.

    Readings are put in order of time. Of several at one moment the warmest counts. Along the straight line
    from T1 to T2 the factor's integral is dt (f2 - f1)/ln(f2/f1), exactly.

    Args:
        at_s: moments of the readings; shape (n,), two different ones at least. [s since 1970-01-01] any
        temperature_c: temperatures; shape (n,). [°C] -30..40
        gap_hours: an interval longer than this is a gap; None takes three usual ones. [h] 0.001..100000
        row_numbers: each reading's row in its file, for messages; None counts from 1; shape (n,). [-] 1..inf

    Returns:
        The days at 20 °C that the readings amount to, with everything odd about them. [-]

    Raises:
        OutOfRange: a temperature lies outside the range beside it (its row is named), or the time is over
            7305 days.
        UnreadableReadings: fewer than two moments, or a moment that is not a number.

    Source: M. Garetz 1994, Brewing Techniques 2(1) (temperature rule); exact integral of it along straight
    lines.

    >>> history = temperature_history(at_s=np.array([0.0, 86400.0]), temperature_c=np.array([5.0, 5.0]))
    >>> history.effective_days_at_20_c
    0.5

    """
    if at_s.shape != temperature_c.shape or at_s.ndim != 1 or at_s.size < 2:
        raise UnreadableReadings("a history wants two or more readings, each with a time and a temperature")
    # NaN is inside of nothing.
    is_time = np.abs(at_s) <= FARTHEST_S
    if not is_time.all():
        row = _row(int(np.argmin(is_time)), row_numbers)
        raise UnreadableReadings(f"row {row}: the time is not a number of seconds within 3000 years", row=row)
    _refuse_impossible(temperature_c, row_numbers)
    out_of_order = int(np.count_nonzero(np.diff(at_s) < 0))
    if out_of_order:
        order = np.argsort(at_s, kind="stable")
        at_s, temperature_c = at_s[order], temperature_c[order]
    moments, warmest_c = _one_per_moment(at_s, temperature_c)
    if moments.size < 2:
        raise UnreadableReadings("all readings carry the same time; a history wants two moments")
    between("days", float(moments[-1] - moments[0]) / SECONDS_PER_DAY, 0, LONGEST_DAYS, "d")
    return _summed(
        moments,
        warmest_c,
        readings=at_s.size,
        readings_above=int(np.count_nonzero(temperature_c > REFERENCE_C)),
        out_of_order=out_of_order,
        gap_s=_gap_s(moments, gap_hours),
    )


def _summed(
    at_s: Numbers,
    temperature_c: Numbers,
    *,
    readings: int,
    readings_above: int,
    out_of_order: int,
    gap_s: float,
) -> TemperatureHistory:
    spans_s = np.diff(at_s)
    warm_c = np.maximum(temperature_c, REFERENCE_C)
    warm_spans_s = spans_above_20_c(spans_s=spans_s, temperature_c=temperature_c)
    wide = np.flatnonzero(spans_s > gap_s)
    whole_s = float(at_s[-1] - at_s[0])
    mean_c = float(np.dot(spans_s, temperature_c[1:] + temperature_c[:-1])) / (2 * whole_s)
    return TemperatureHistory(
        began_at_s=float(at_s[0]),
        ended_at_s=float(at_s[-1]),
        readings=readings,
        mean_c=mean_c,
        coldest_c=float(temperature_c.min()),
        hottest_c=float(temperature_c.max()),
        effective_days_at_20_c=float(factor_integrals(spans_s=spans_s, temperature_c=temperature_c).sum())
        / SECONDS_PER_DAY,
        effective_days_above_20_c=float(factor_integrals(spans_s=warm_spans_s, temperature_c=warm_c).sum())
        / SECONDS_PER_DAY,
        days_above_20_c=float(warm_spans_s.sum()) / SECONDS_PER_DAY,
        readings_above_20_c=readings_above,
        gaps=tuple(Gap(float(at_s[i]), float(at_s[i + 1])) for i in wide),
        duplicates=readings - at_s.size,
        out_of_order=out_of_order,
        daily=temperature_days(at_s=at_s, temperature_c=temperature_c, gap_s=gap_s),
    )


def _one_per_moment(at_s: Numbers, temperature_c: Numbers) -> tuple[Numbers, Numbers]:
    """Keep the warmest of the readings at one moment; the moments are in order."""
    is_new: Flags = np.empty(at_s.size, dtype=np.bool_)
    is_new[0] = True
    np.greater(at_s[1:], at_s[:-1], out=is_new[1:])
    if is_new.all():
        return at_s, temperature_c
    starts = np.flatnonzero(is_new)
    return at_s[starts], np.maximum.reduceat(temperature_c, starts)


def _gap_s(at_s: Numbers, gap_hours: float | None) -> float:
    if gap_hours is None:
        return GAP_MEDIANS * float(np.median(np.diff(at_s)))
    between("gap_hours", gap_hours, 0.001, 100_000, "h")
    return gap_hours * SECONDS_PER_HOUR


def _refuse_impossible(temperature_c: Numbers, row_numbers: Places | None) -> None:
    inside = (temperature_c >= COLDEST_C) & (temperature_c <= HOTTEST_C)
    if inside.all():
        return
    index = int(np.argmin(inside))
    value = float(temperature_c[index])
    row = _row(index, row_numbers)
    raise OutOfRange(
        f"row {row}: temperature must be {COLDEST_C:g} to {HOTTEST_C:g} °C, not {value:g}",
        name="temperature_c",
        value=value if math.isfinite(value) else None,
        low=COLDEST_C,
        high=HOTTEST_C,
        unit="°C",
        row=row,
    )


def _row(index: int, row_numbers: Places | None) -> int:
    return index + 1 if row_numbers is None else int(row_numbers[index])
