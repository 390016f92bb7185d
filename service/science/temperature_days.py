"""A temperature logger's readings day by day, as far as they cover each day.

What a stretch without readings cost is not guessed at here: its hours are not covered, and whoever reckons
with the days takes the stated temperature of the store for them.
"""

import math

import numpy as np

from service.facts import Fact
from service.science.arrays import Numbers
from service.science.storage import HALVING_C, REFERENCE_C

SECONDS_PER_DAY = 86_400.0


class TemperatureDay(Fact, frozen=True, kw_only=True):
    """One day of the logger's clock; `day` counts from 1970-01-01, `covered_fraction` leaves out the gaps."""

    day: int
    covered_fraction: float
    effective_days_at_20_c: float
    effective_days_above_20_c: float
    mean_c: float
    coldest_c: float
    hottest_c: float


def temperature_days(
    *, at_s: Numbers, temperature_c: Numbers, gap_s: float = math.inf
) -> tuple[TemperatureDay, ...]:
    """Sum up readings day by day, each straight line cut at midnight.

    Along the straight line from T1 to T2 the factor's integral is dt (f2 - f1)/ln(f2/f1), exactly; a line
    longer than a gap covers nothing.

    Args:
        at_s: moments of the readings, rising; shape (n,). [s since 1970-01-01] any
        temperature_c: temperatures; shape (n,). [°C] -30..40
        gap_s: a line longer than this is a gap. [s] 0..inf

    Returns:
        The days that readings cover, in order. [-]

    Source: M. Garetz 1994, Brewing Techniques 2(1) (temperature rule); exact integral of it along straight
    lines.

    >>> days = temperature_days(at_s=np.array([0.0, 129600.0]), temperature_c=np.array([5.0, 5.0]))
    >>> [(day.day, day.covered_fraction, day.effective_days_at_20_c) for day in days]
    [(0, 1.0, 0.5), (1, 0.5, 0.25)]

    """
    first_cut, end = math.floor(at_s[0] / SECONDS_PER_DAY) + 1, math.ceil(at_s[-1] / SECONDS_PER_DAY)
    midnights = np.arange(first_cut, end) * SECONDS_PER_DAY
    places = np.searchsorted(at_s, midnights)
    wanted = at_s[places] != midnights
    cuts, places = midnights[wanted], places[wanted]
    moments = np.insert(at_s, places, cuts)
    temperatures = np.insert(temperature_c, places, np.interp(cuts, at_s, temperature_c))
    spans_s = np.diff(moments)
    line = np.searchsorted(at_s, moments[:-1], side="right") - 1
    covered = np.diff(at_s)[line] <= gap_s
    warm = np.maximum(temperatures, REFERENCE_C)
    integrals = factor_integrals(spans_s=spans_s, temperature_c=temperatures)
    warm_integrals = factor_integrals(
        spans_s=spans_above_20_c(spans_s=spans_s, temperature_c=temperatures), temperature_c=warm
    )
    means = (temperatures[1:] + temperatures[:-1]) / 2
    day = np.floor_divide(moments[:-1], SECONDS_PER_DAY).astype(np.int64)
    first, count = int(day[0]), int(day[-1] - day[0]) + 1

    def by_day(values: Numbers) -> list[float]:
        sums: list[float] = np.bincount((day - first)[covered], values[covered], count).tolist()
        return sums

    covered_s = by_day(spans_s)
    coldest, hottest = np.full(count, np.inf), np.full(count, -np.inf)
    ends = np.concatenate((temperatures[:-1][covered], temperatures[1:][covered]))
    places = np.concatenate(((day - first)[covered],) * 2)
    np.minimum.at(coldest, places, ends)
    np.maximum.at(hottest, places, ends)
    columns = zip(
        covered_s,
        by_day(integrals),
        by_day(warm_integrals),
        by_day(spans_s * means),
        coldest.tolist(),
        hottest.tolist(),
        strict=True,
    )
    return tuple(
        TemperatureDay(
            day=first + place,
            covered_fraction=seconds / SECONDS_PER_DAY,
            effective_days_at_20_c=effective / SECONDS_PER_DAY,
            effective_days_above_20_c=above / SECONDS_PER_DAY,
            mean_c=heat / seconds,
            coldest_c=low,
            hottest_c=high,
        )
        for place, (seconds, effective, above, heat, low, high) in enumerate(columns)
        if seconds > 0
    )


def factor_integrals(*, spans_s: Numbers, temperature_c: Numbers) -> Numbers:
    """Integrate the temperature factor along straight lines.

    2^((T - 20)/15) over a line of dt from T1 to T2 gives dt f1 (exp(d) - 1)/d, with d the growth of ln f.

    Args:
        spans_s: how long each line lasts; shape (n - 1,). [s] 0..inf
        temperature_c: temperatures at the ends of the lines; shape (n,). [°C] -30..40

    Returns:
        The integral of each line, in seconds at 20 °C; shape (n - 1,). [s]

    Source: M. Garetz 1994, Brewing Techniques 2(1) (temperature rule); exact integral.

    >>> factor_integrals(spans_s=np.array([60.0]), temperature_c=np.array([5.0, 5.0]))
    array([30.])

    """
    log_factor = (temperature_c - REFERENCE_C) * (math.log(2) / HALVING_C)
    growth = np.diff(log_factor)
    flat = growth == 0
    growth[flat] = 1.0
    mean_growth = np.expm1(growth) / growth
    mean_growth[flat] = 1.0
    integrals: Numbers = spans_s * np.exp(log_factor[:-1]) * mean_growth
    return integrals


def spans_above_20_c(*, spans_s: Numbers, temperature_c: Numbers) -> Numbers:
    """Say how long each straight line ran above 20 °C, where the temperature rule was not published.

    Args:
        spans_s: how long each line lasts; shape (n - 1,). [s] 0..inf
        temperature_c: temperatures at the ends of the lines; shape (n,). [°C] -30..40

    Returns:
        The time above 20 °C; shape (n - 1,). [s]

    Source: geometry of a straight line; no empirical constant.

    >>> spans_above_20_c(spans_s=np.array([60.0]), temperature_c=np.array([10.0, 30.0]))
    array([30.])

    """
    rise_c, warm_rise_c = np.diff(temperature_c), np.diff(np.maximum(temperature_c, REFERENCE_C))
    flat = rise_c == 0
    rise_c[flat] = 1.0
    share: Numbers = warm_rise_c / rise_c
    share[flat] = temperature_c[:-1][flat] > REFERENCE_C
    return spans_s * share
