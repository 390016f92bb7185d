"""What a way of estimating utilization is made of, and what all of them share.

Each way has one record (`Method`), in a module of its own: nothing else asks which way is meant.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cache

from service.facts import Fact, field
from service.market.brewing.alpha_in_use import half_widths_of
from service.market.brewing.brews import HOT, Addition, Brew, Reach
from service.reference.assumptions import Assumption, get_assumption
from service.reference.recoveries import get_recovery
from service.science.isomerization import MEASURED_FROM_C, MEASURED_TO_C
from service.science.uncertainty import HalfWidths

NO_SPREAD = HalfWidths(0.0, 0.0)
NO_SOURCE = "assumption, no source"
EXTRAPOLATED = (
    f"The isomerisation was measured from {MEASURED_FROM_C:g} to {MEASURED_TO_C:g} °C; outside of that this "
    "addition is extrapolated."
)
MALOWICKI = "Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439: isomerisation and degradation"
BOILING = "ISO 2533:1975 (standard atmosphere) and IAPWS-IF97 region 4: boiling point at an elevation"


@cache
def reason_of(at: str) -> str:
    """Why hops at a place give no bitterness that can be estimated."""
    if at == "mash":
        found = get_recovery("wort_mash")
        return (
            f"No published rule gives the bitterness of mash hops; one brewery found {found.value:g} % of "
            f"their alpha in wort ({found.source})."
        )
    return (
        "Nothing isomerises in cold beer, so dry hops give no classic IBU; what their humulinones may add by "
        "taste stands apart."
    )


class Used(Fact, frozen=True, kw_only=True):
    """What a method gives for one hot addition, before the ratios of its assumptions.

    `scatter` is how far that may be off, by cause. Where several additions of one brew are surer together than
    each alone, `scatter_in_brew` counts in the brew's sum.
    """

    percent: float
    scatter: Mapping[str, HalfWidths] = field(default_factory=dict)
    scatter_in_brew: Mapping[str, HalfWidths] | None = None
    cautions: tuple[str, ...] = ()


class Utilization(Fact, frozen=True, kw_only=True):
    """Share of an addition's alpha that becomes bitterness; `percent` is None where `reason` says why."""

    percent: float | None
    scatter: Mapping[str, HalfWidths] = field(default_factory=dict)
    scatter_in_brew: Mapping[str, HalfWidths] = field(default_factory=dict)
    reason: str | None = None
    cautions: tuple[str, ...] = ()


class RecoveryUsed(Fact, frozen=True, kw_only=True):
    """A share that reaches the next vessel: the brewery's own, or the default with its 5th to 95th percentile.

    The published extremes stand beside it; they are not its interval.
    """

    percent: float
    low_percent: float
    high_percent: float
    published_low_percent: float
    published_high_percent: float
    is_default: bool
    source: str

    @property
    def scatter(self) -> HalfWidths:
        """How far it may be off; a brewery's own figure is taken as it stands."""
        return HalfWidths(
            math.log(self.percent / self.low_percent), math.log(self.high_percent / self.percent)
        )


def nothing_recovered(_brew: Brew) -> Mapping[str, RecoveryUsed]:
    """A method that has its losses inside the utilization names no recovery."""
    return {}


def volume_as_it_stands(brew: Brew) -> float:
    """The volume that was given, of beer or of wort."""
    return brew.wort.volume_l


class Method(Fact, frozen=True, kw_only=True):
    """Everything that is peculiar to one way of estimating utilization.

    `uses` gives each hot addition its share, and `uses_of_brewhouse` the same without the losses that a
    brewery's own factor stands for; `words` and `words_of_brewhouse` say what either takes for granted.
    `ratios_by_need` names the assumptions whose value multiplies an addition's
    share and whose interval is its scatter; `rows_by_need` names others that the figures rest on;
    `sources_by_need` says what is cited. What a brew needs is listed by `needs_of`.
    """

    code: str
    base_model: str
    reach: Reach
    uses: Callable[[Brew], Sequence[Used]]
    uses_of_brewhouse: Callable[[Brew], Sequence[Used]]
    ratios_by_need: Mapping[str, tuple[str, ...]]
    rows_by_need: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    sources_by_need: Mapping[str, tuple[str, ...]]
    words: Callable[[Brew], Iterable[str]]
    words_of_brewhouse: Callable[[Brew], Iterable[str]]
    inputs_not_used: Callable[[Brew], Iterable[str]]
    recoveries: Callable[[Brew], Mapping[str, RecoveryUsed]] = nothing_recovered
    volume_l: Callable[[Brew], float] = volume_as_it_stands


ALWAYS = "always"
ELEVATION = "elevation"
DEFAULT_KETTLE_TO_WORT = "default kettle_to_wort"
DEFAULT_WORT_TO_BEER = "default wort_to_beer"


def needs_of(brew: Brew) -> tuple[str, ...]:
    """What a brew asks of a method: its places, its forms, its elevation, the recoveries it does not give."""
    told = brew.recoveries
    return (
        ALWAYS,
        *dict.fromkeys(need for addition in brew.additions for need in _needs_of_addition(addition)[1:]),
        *((ELEVATION,) if brew.wort.elevation_m is not None else ()),
        *((DEFAULT_KETTLE_TO_WORT,) if told.kettle_to_wort_percent is None else ()),
        *((DEFAULT_WORT_TO_BEER,) if told.wort_to_beer_percent is None else ()),
    )


def _needs_of_addition(addition: Addition) -> tuple[str, ...]:
    form = (addition.form,) if addition.form and addition.at in HOT else ()
    return (ALWAYS, addition.at, *form)


def ratios_of(method: Method, addition: Addition) -> tuple[Assumption, ...]:
    """The assumptions that multiply the share of one hot addition."""
    names = [name for need in _needs_of_addition(addition) for name in method.ratios_by_need.get(need, ())]
    return tuple(get_assumption(name) for name in dict.fromkeys(names))


def rows_used(method: Method, brew: Brew) -> tuple[Assumption, ...]:
    """Every assumption of the tables that a method's figures for a brew rest on, each once."""
    ratios = [row for a in brew.additions if a.at in HOT for row in ratios_of(method, a)]
    others = [get_assumption(name) for need in needs_of(brew) for name in method.rows_by_need.get(need, ())]
    return tuple({row.name: row for row in (*others, *ratios)}.values())


def sources_cited(method: Method, brew: Brew) -> tuple[str, ...]:
    """What a method cites for a brew: its own sources, and those of the assumptions that have one; each once."""
    own = [source for need in needs_of(brew) for source in method.sources_by_need.get(need, ())]
    of_rows = [row.source for row in rows_used(method, brew) if row.mark != NO_SOURCE]
    return tuple(dict.fromkeys([*own, *of_rows]))


def utilizations(brew: Brew, method: Method) -> tuple[Utilization, ...]:
    """The utilization of each addition, in their order; mash and dry hops give none."""
    return _with_ratios(brew, method, method.uses(brew))


def utilizations_of_brewhouse(brew: Brew, method: Method) -> tuple[Utilization, ...]:
    """As `utilizations`, without the losses that a brewery's own factor stands for."""
    return _with_ratios(brew, method, method.uses_of_brewhouse(brew))


def _with_ratios(brew: Brew, method: Method, uses: Sequence[Used]) -> tuple[Utilization, ...]:
    hot = iter(uses)
    return tuple(
        _with_ratio(next(hot), ratios_of(method, addition))
        if addition.at in HOT
        else Utilization(percent=None, reason=reason_of(addition.at))
        for addition in brew.additions
    )


def _with_ratio(used: Used, ratios: Sequence[Assumption]) -> Utilization:
    assumed = {row.name: half_widths_of(row) for row in ratios}
    in_brew = used.scatter if used.scatter_in_brew is None else used.scatter_in_brew
    return Utilization(
        percent=used.percent * math.prod(row.value for row in ratios),
        scatter={**used.scatter, **assumed},
        scatter_in_brew={**in_brew, **assumed},
        cautions=used.cautions,
    )


def hot_additions(brew: Brew) -> tuple[Addition, ...]:
    """The additions that give bitterness, in their order."""
    return tuple(addition for addition in brew.additions if addition.at in HOT)


def gravity_of(addition: Addition, brew: Brew) -> float:
    """The gravity of the wort at an addition."""
    return brew.wort.gravity_sg if addition.gravity_sg is None else addition.gravity_sg


def additions_not_used(brew: Brew, *, reads_temperatures: bool, reads_gravity: bool) -> Iterator[str]:
    """What was told of additions and changed nothing, as additions/N/name, counted from 0."""
    for place, addition in enumerate(brew.additions):
        where = f"additions/{place}"
        if addition.at not in HOT and addition.minutes is not None:
            yield f"{where}/minutes"
        read = reads_temperatures and bool(brew.kettle.at_minutes)
        if addition.temperature_c is not None and (addition.at != "whirlpool" or read):
            yield f"{where}/temperature_c"
        if addition.gravity_sg is not None and not (reads_gravity and addition.at in HOT):
            yield f"{where}/gravity_sg"


def recoveries_not_used(brew: Brew) -> Iterator[str]:
    """The recoveries that were told to a method that counts none."""
    for name in ("kettle_to_wort_percent", "wort_to_beer_percent", "wort_lost_percent"):
        if getattr(brew.recoveries, name) is not None:
            yield f"recoveries/{name}"
