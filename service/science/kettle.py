"""What becomes of alpha acids in a kettle of any temperature profile.

A profile is a row of stretches, one after another: holds, ramps, cooling towards the surroundings, readings.
Alpha and iso-alpha acids follow the two rate laws of `service.science.isomerization`. Under 60 °C, where
isomerisation has not begun, the same formula is used, down to 0 °C: it adds less than 0.03 % a minute at
60 °C and a hundredth of that in cold wort. An answer that touches less than 90 °C or over 130 °C is flagged.
"""

import math
from collections.abc import Sequence
from functools import cache

import numpy as np

from service.errors import OutOfRange
from service.facts import Fact
from service.science.arrays import Flags, Numbers
from service.science.checks import between
from service.science.isomerization import (
    DEGRADATION_COEFFICIENT_K,
    DEGRADATION_PER_MINUTE,
    HIGHEST_C,
    ISOMERIZATION_COEFFICIENT_K,
    ISOMERIZATION_PER_MINUTE,
    LONGEST_MINUTES,
    MEASURED_FROM_C,
    MEASURED_TO_C,
    ZERO_CELSIUS_K,
)
from service.science.series import between_all

COLDEST_C = 0.0
MEASURED_MIDDLE_C = (MEASURED_FROM_C + MEASURED_TO_C) / 2
MEASURED_REACH_C = (MEASURED_TO_C - MEASURED_FROM_C) / 2
# A ramp shorter than this is a jump.
SHORTEST_MINUTES = 1e-6
MOST_READINGS = 100_000

# A panel is short enough for eight Gauss points to give both rate laws to the last digits.
PANEL_SPAN_C = 10.0
PANEL_DECAYS = 1.0
# Nodes of the Gauss rule within a panel.
NODES = 8

# One row of a profile's table: start, minutes, then T(u) = level + slope u + swing exp(-decay u).
Row = tuple[float, float, float, float, float, float]


class Hold(Fact, frozen=True):
    """A stretch at one temperature."""

    minutes: float
    temperature_c: float

    def __post_init__(self) -> None:
        """Refuse what is out of range."""
        _check_stretch(self.minutes, temperature_c=self.temperature_c)

    def rows(self, start: float) -> list[Row]:
        """Give the stretch as rows of the profile's table."""
        return [(start, self.minutes, self.temperature_c, 0.0, 0.0, 0.0)]


class Ramp(Fact, frozen=True):
    """A stretch in which the temperature moves along a straight line."""

    minutes: float
    from_c: float
    to_c: float

    def __post_init__(self) -> None:
        """Refuse what is out of range."""
        _check_stretch(self.minutes, from_c=self.from_c, to_c=self.to_c)

    def rows(self, start: float) -> list[Row]:
        """Give the stretch as rows of the profile's table."""
        slope = (self.to_c - self.from_c) / self.minutes if self.minutes >= SHORTEST_MINUTES else 0.0
        return [(start, self.minutes, self.from_c, slope, 0.0, 0.0)]


class Cooling(Fact, frozen=True):
    """A stretch in which wort nears its surroundings: T = S + (T0 - S) exp(-b t)."""

    minutes: float
    from_c: float
    surroundings_c: float
    rate_per_minute: float

    def __post_init__(self) -> None:
        """Refuse what is out of range."""
        _check_stretch(self.minutes, from_c=self.from_c, surroundings_c=self.surroundings_c)
        between("rate_per_minute", self.rate_per_minute, 0, 10, "1/min")

    def rows(self, start: float) -> list[Row]:
        """Give the stretch as rows of the profile's table."""
        swing = self.from_c - self.surroundings_c
        return [(start, self.minutes, self.surroundings_c, 0.0, swing, self.rate_per_minute)]


class Readings(Fact, frozen=True):
    """A stretch told by readings, straight lines between them; the first reading starts the stretch."""

    at_minutes: tuple[float, ...]
    temperatures_c: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse what is out of range, out of order, or not in pairs."""
        between("number of readings", len(self.at_minutes), 2, MOST_READINGS, "")
        between(
            "number of temperatures", len(self.temperatures_c), len(self.at_minutes), len(self.at_minutes), ""
        )
        for at, temperature_c in zip(self.at_minutes, self.temperatures_c, strict=True):
            _check_stretch(at, temperatures_c=temperature_c)
        if np.diff(self.at_minutes).min() < SHORTEST_MINUTES:
            raise OutOfRange("at_minutes must rise from reading to reading", name="at_minutes", unit="min")

    def rows(self, start: float) -> list[Row]:
        """Give the stretch as rows of the profile's table."""
        at = np.asarray(self.at_minutes, dtype=float)
        level = np.asarray(self.temperatures_c, dtype=float)
        slopes = np.diff(level) / np.diff(at)
        nothing = np.zeros_like(slopes)
        columns = (start + at[:-1] - at[0], np.diff(at), level[:-1], slopes, nothing, nothing)
        return list(zip(*(column.tolist() for column in columns), strict=True))


Stretch = Hold | Ramp | Cooling | Readings


class KettleYield(Fact, frozen=True):
    """What one addition's alpha acids are at the end, as fractions of what was added; they sum to 1."""

    alpha_fraction: float
    iso_fraction: float
    losses_fraction: float
    is_extrapolated: bool


def kettle_yields(
    *, profile: Sequence[Stretch], added_at_minutes: Sequence[float]
) -> tuple[KettleYield, ...]:
    """Follow the alpha acids of each addition to the end of the profile.

    dA/dt = -k1(T) A and dI/dt = k1(T) A - k2(T) I. Over a panel [s, e] the exact solution needs the integrals
    K1, K2 of k1, k2 and J = int k1(t) exp(-K1(s, t) - K2(t, e)) dt, by eight Gauss points, shared by all
    additions.

    Args:
        profile: the stretches in their order, 24 hours at most. [-] 1..100
        added_at_minutes: when each addition goes in, from the start of the profile. [min] 0..1440

    Returns:
        One yield per addition, in the order given; 1e-9 on holds, 1e-7 on ramps and curves, relative. [-]

    Raises:
        OutOfRange: the profile is empty or too long, or an addition comes before its start or after its end.

    Source: Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439; integrated numerically.

    >>> kettle_yields(profile=[Hold(minutes=60, temperature_c=100)], added_at_minutes=[0])[0].iso_fraction
    0.4759

    """
    rows, end = _rows(profile)
    added = np.asarray(added_at_minutes)
    between_all("added_at_minutes", added, 0, end, "min")
    breaks = np.array(_cuts(rows, {0.0, end, *added.tolist()}))
    fractions_by_break = _from_each_break(np.array(rows), breaks)
    places = breaks.searchsorted(added)
    yields = zip(*(fractions[places].tolist() for fractions in fractions_by_break), strict=True)
    return tuple(KettleYield(alpha, iso, 1 - alpha - iso, strange) for alpha, iso, strange in yields)


def profile_temperature_c(*, profile: Sequence[Stretch], at_minutes: float) -> float:
    """Read the temperature off a profile; where two stretches meet, the later one counts.

    T(u) = level + slope u + swing exp(-decay u), u from the start of the stretch.

    Args:
        profile: the stretches in their order, 24 hours at most. [-] 1..100
        at_minutes: time from the start of the profile. [min] 0..1440

    Returns:
        The temperature. [°C]

    Raises:
        OutOfRange: the profile is empty or too long, or the time lies after its end.

    Source: the profile itself; no empirical constant.

    >>> profile_temperature_c(profile=[Ramp(minutes=20, from_c=100, to_c=80)], at_minutes=5)
    95.0

    """
    rows, end = _rows(profile)
    between("at_minutes", at_minutes, 0, end, "min")
    row = [row for row in rows if row[0] <= at_minutes][-1]
    return float(_temperatures(np.array([row]), np.array([[at_minutes]]))[0, 0])


def _check_stretch(minutes: float, **temperatures_c: float) -> None:
    between("minutes", minutes, 0, LONGEST_MINUTES, "min")
    for name, temperature_c in temperatures_c.items():
        between(name, temperature_c, COLDEST_C, HIGHEST_C, "°C")


def _rows(profile: Sequence[Stretch]) -> tuple[list[Row], float]:
    between("number of stretches", len(profile), 1, 100, "")
    rows: list[Row] = []
    end = 0.0
    for stretch in profile:
        rows += stretch.rows(end)
        end = rows[-1][0] + rows[-1][1]
    between("minutes of the profile", end, 0, LONGEST_MINUTES, "min")
    return rows, end


def _cuts(rows: Sequence[Row], wanted: set[float]) -> list[float]:
    """Cut the profile where hops go in, where stretches meet, and where a panel would be too long."""
    cuts = set(wanted)
    for start, minutes, level, slope, swing, decay in rows:
        first, last = level + swing, level + slope * minutes + swing * math.exp(-decay * minutes)
        inverse = -1 / (max(first, last) + ZERO_CELSIUS_K)
        forming = ISOMERIZATION_PER_MINUTE * math.exp(ISOMERIZATION_COEFFICIENT_K * inverse)
        losing = DEGRADATION_PER_MINUTE * math.exp(DEGRADATION_COEFFICIENT_K * inverse)
        decays = max(forming + losing, decay) * minutes / PANEL_DECAYS
        panels = max(1, math.ceil(max(decays, abs(last - first) / PANEL_SPAN_C)))
        cuts.update([start + minutes * place / panels for place in range(panels)])
    return sorted(cuts)


def _temperatures(rows: Numbers, at: Numbers) -> Numbers:
    start, _, level, slope, swing, decay = rows.T[:, :, None]
    past = at - start
    temperatures: Numbers = level + slope * past
    if swing.any():
        temperatures += swing * np.exp(-decay * past)
    return temperatures


def _rates(temperatures_c: Numbers) -> tuple[Numbers, Numbers]:
    inverse = -1 / (temperatures_c + ZERO_CELSIUS_K)
    forming = ISOMERIZATION_PER_MINUTE * np.exp(ISOMERIZATION_COEFFICIENT_K * inverse)
    return forming, DEGRADATION_PER_MINUTE * np.exp(DEGRADATION_COEFFICIENT_K * inverse)


def _from_each_break(table: Numbers, breaks: Numbers) -> tuple[Numbers, Numbers, Flags]:
    """Give alpha and iso at the end for alpha acids added at each break, and whether rates were strange."""
    nodes, weights, running = _gauss(NODES)
    lengths = breaks[1:] - breaks[:-1]
    at = breaks[:-1, None] + lengths[:, None] * nodes
    temperatures_c = _temperatures(table[table[:, 0].searchsorted(at[:, 0], side="right") - 1], at)
    forming, losing = _rates(temperatures_c)
    formed, lost = lengths * (forming @ weights), lengths * (losing @ weights)
    decayed = (losing - forming) @ running * lengths[:, None] - lost[:, None]
    inner = lengths * (forming * np.exp(decayed) @ weights)
    formed_before, lost_after = np.zeros((2, len(breaks)))
    formed.cumsum(out=formed_before[1:])
    lost[::-1].cumsum(out=lost_after[-2::-1])
    gains = np.zeros(len(breaks))
    gains[:-1] = inner * np.exp(-formed_before[:-1] - lost_after[1:])
    iso = np.exp(formed_before) * gains[::-1].cumsum()[::-1]
    outside = np.flatnonzero(abs(temperatures_c - MEASURED_MIDDLE_C) > MEASURED_REACH_C)
    last_outside = outside[-1] // NODES if outside.size else -1
    return np.exp(formed_before - formed_before[-1]), iso, np.arange(len(breaks)) <= last_outside


@cache
def _gauss(points: int) -> tuple[Numbers, Numbers, Numbers]:
    """Give nodes and weights on 0..1, and the matrix that integrates from 0 to each node."""
    nodes, weights = np.polynomial.legendre.leggauss(points)
    values = np.polynomial.legendre.legvander(nodes, points)
    degrees = np.arange(1, points)
    running = np.empty((points, points))
    running[:, 0] = nodes + 1
    running[:, 1:] = (values[:, 2:] - values[:, :-2]) / (2 * degrees + 1)
    shares = (2 * np.arange(points) + 1) / 2 * values[:, :points] * weights[:, None]
    return (nodes + 1) / 2, weights / 2, (running @ shares.T / 2).T
