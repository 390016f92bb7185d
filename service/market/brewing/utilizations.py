"""How much of each addition's alpha becomes bitterness: by the published rule, by kinetics, by own brews."""

import math
from collections.abc import Iterable, Sequence
from functools import cache

from service.facts import Fact, replace
from service.market.brewing.alpha_in_use import half_widths_of
from service.market.brewing.brews import HOT, Addition, Brew
from service.reference.assumptions import get_assumption
from service.reference.recoveries import get_recovery
from service.science.bitterness import (
    plato_from_sg,
    tinseth_utilization_percent,
    tinseth_whirlpool_utilization_percent,
)
from service.science.boiling import boiling_point_c
from service.science.brewhouse import BrewhouseFit
from service.science.isomerization import is_extrapolated, iso_alpha_fraction
from service.science.kettle import Hold, KettleYield, Readings, Stretch, kettle_yields
from service.science.recoveries import (
    KETTLE_TO_WORT_PERCENT_MAX,
    KETTLE_TO_WORT_PERCENT_MIN,
    WORT_TO_BEER_PERCENT_MAX,
    WORT_TO_BEER_PERCENT_MIN,
    kinetic_utilization_percent,
)
from service.science.uncertainty import NORMAL_95TH, HalfWidths, combine_half_widths

EXTRAPOLATED = (
    "The isomerisation was measured from 90 to 130 °C; outside of that this addition is extrapolated."
)
WHIRLPOOL_CONVENTION = (
    "whirlpool: the boil's utilization times k1(T)/k1(100 °C), a derived convention, not a published one"
)
REASONS = {
    "mash": "No published rule gives the bitterness of mash hops; one brewery found 9.1 % of their alpha in "
    "wort (Justus 2018, MBAA Technical Quarterly 55(3):67-74).",
    "dry_hop": "Nothing isomerises in cold beer, so dry hops give no classic IBU; what their humulinones may "
    "add by taste stands apart.",
}


NO_SPREAD = HalfWidths(0.0, 0.0)


class Utilization(Fact, frozen=True):
    """Share of an addition's alpha that becomes bitterness; `percent` is None where `reason` says why."""

    percent: float | None
    spread: HalfWidths = NO_SPREAD
    model_name: str = ""
    reason: str | None = None
    cautions: tuple[str, ...] = ()


class RecoveryUsed(Fact, frozen=True):
    """A share that reaches the next vessel: the brewery's own, or the documented default with its range."""

    percent: float
    low_percent: float
    high_percent: float
    is_default: bool
    source: str

    @property
    def spread(self) -> HalfWidths:
        """The published range, where the brewery told nothing of its own."""
        if not self.is_default:
            return NO_SPREAD
        return HalfWidths(
            math.log(self.percent / self.low_percent), math.log(self.high_percent / self.percent)
        )


def tinseth_utilizations(brew: Brew) -> tuple[Utilization, ...]:
    """Each addition by the published rule; whirlpool by a derived convention, mash and dry hops not at all."""
    return tuple(_tinseth(addition, brew) for addition in brew.additions)


def _tinseth(addition: Addition, brew: Brew) -> Utilization:
    if addition.at not in HOT or addition.minutes is None:
        return Utilization(None, reason=REASONS[addition.at])
    gravity = brew.wort.gravity_sg if addition.gravity_sg is None else addition.gravity_sg
    if addition.at == "whirlpool" and addition.temperature_c is not None:
        percent = tinseth_whirlpool_utilization_percent(
            gravity_sg=gravity, minutes=addition.minutes, temperature_c=addition.temperature_c
        )
        cautions = (EXTRAPOLATED,) if is_extrapolated(temperature_c=addition.temperature_c) else ()
        spread = _assumed("whirlpool_model_spread_ratio", form=addition.form)
        return Utilization(percent, spread, "tinseth whirlpool", cautions=cautions)
    percent = tinseth_utilization_percent(gravity_sg=gravity, minutes=addition.minutes)
    first = ("first_wort_factor",) if addition.at == "first_wort" else ()
    return Utilization(percent, _assumed("tinseth_model_spread_ratio", *first, form=addition.form), "tinseth")


@cache
def _assumed(*names: str, form: str | None) -> HalfWidths:
    wet = ("wet_hop_utilization_ratio",) if form == "wet_hop" else ()
    return combine_half_widths(parts=[half_widths_of(get_assumption(name)) for name in (*names, *wet)])


def kinetic_utilizations(
    brew: Brew, *, kettle_to_wort: RecoveryUsed, wort_to_beer: RecoveryUsed
) -> tuple[Utilization, ...]:
    """Each hot addition followed through boil, whirlpool and cooling, then the two recoveries."""
    found = iter(_yields(brew))
    recovered = (kettle_to_wort.spread, wort_to_beer.spread)
    return tuple(
        _kinetic(addition, next(found), kettle_to_wort, wort_to_beer, recovered)
        if addition.at in HOT
        else Utilization(None, reason=REASONS[addition.at])
        for addition in brew.additions
    )


def _kinetic(
    addition: Addition,
    found: KettleYield,
    kettle_to_wort: RecoveryUsed,
    wort_to_beer: RecoveryUsed,
    recovered: Sequence[HalfWidths],
) -> Utilization:
    percent = kinetic_utilization_percent(
        iso_fraction=min(max(found.iso_fraction, 0.0), 1.0),
        kettle_to_wort_percent=kettle_to_wort.percent,
        wort_to_beer_percent=wort_to_beer.percent,
    )
    first = ("first_wort_factor",) if addition.at == "first_wort" else ()
    model = _assumed("kinetic_model_spread_ratio", *first, form=addition.form)
    return Utilization(
        percent,
        combine_half_widths(parts=[model, *recovered]),
        "kinetic",
        cautions=(EXTRAPOLATED,) if found.is_extrapolated else (),
    )


def boil_c(brew: Brew) -> float:
    """The temperature at which the kettle boils; at sea level where no elevation is told."""
    return boiling_point_c(
        elevation_m=brew.wort.elevation_m or 0.0,
        gravity_plato=plato_from_sg(gravity_sg=brew.wort.gravity_sg),
    )


def boil_minutes(brew: Brew) -> float:
    """How long the kettle boils: as told, else as long as the hops that boil longest."""
    if brew.kettle.boil_minutes is not None:
        return brew.kettle.boil_minutes
    return max((a.minutes or 0.0 for a in brew.additions if a.at in ("boil", "first_wort")), default=0.0)


def _yields(brew: Brew) -> tuple[KettleYield, ...]:
    """Alpha, iso-alpha and losses of the hot additions, in their order."""
    boil = boil_minutes(brew)
    profile: list[Stretch] = [Hold(boil, boil_c(brew)), *_after_boil(brew)]
    end = 0.0
    for stretch in profile:
        start, minutes = stretch.rows(end)[-1][:2]
        end = start + minutes
    added = [
        max(0.0, (end if a.at == "whirlpool" else boil) - (a.minutes or 0.0))
        for a in brew.additions
        if a.at in HOT
    ]
    return kettle_yields(profile=profile, added_at_minutes=added) if added else ()


def _after_boil(brew: Brew) -> Iterable[Stretch]:
    """After the heat is off: as read, else the whirlpool that the additions tell, the longest of them first."""
    if brew.kettle.at_minutes:
        yield Readings(brew.kettle.at_minutes, brew.kettle.temperatures_c)
        return
    stays = sorted(
        ((a.minutes or 0.0, a.temperature_c or 0.0) for a in brew.additions if a.at == "whirlpool"),
        reverse=True,
    )
    ends = [*(minutes for minutes, _ in stays[1:]), 0.0]
    for (minutes, temperature_c), until in zip(stays, ends, strict=False):
        yield Hold(minutes - until, temperature_c)


def own_utilizations(
    base: Sequence[Utilization], additions: Sequence[Addition], fit: BrewhouseFit
) -> tuple[Utilization, ...]:
    """The base model's utilizations times the brewery's own factors, with the error that its brews showed."""
    reach = NORMAL_95TH * fit.left_out_error_fraction
    return tuple(
        used
        if used.percent is None
        else replace(
            used,
            percent=used.percent * (fit.whirlpool_factor if addition.at == "whirlpool" else fit.factor),
            spread=HalfWidths(reach, reach),
            model_name="brewhouse",
        )
        for used, addition in zip(base, additions, strict=True)
    )


@cache
def default_kettle_to_wort_percent() -> float:
    """What Justus found in wort after an hour of boil over what the kinetics give for that hour at 100 °C."""
    found = get_recovery("wort_boil_60").value
    return found / iso_alpha_fraction(temperature_c=100.0, minutes=60.0)


def kettle_to_wort(own_percent: float | None) -> RecoveryUsed:
    """The share of iso-alpha acids that leaves the kettle with the wort."""
    source = (
        "derived: 44.0 % of the alpha found in wort after 60 minutes of boil "
        f"({get_recovery('wort_boil_60').source}) over the kinetic yield of that hour; published 27 to 93 %"
    )
    return _recovery(
        own_percent,
        default_kettle_to_wort_percent(),
        (KETTLE_TO_WORT_PERCENT_MIN, KETTLE_TO_WORT_PERCENT_MAX),
        source,
    )


def wort_to_beer(own_percent: float | None) -> RecoveryUsed:
    """The share of it that is in the finished beer."""
    lost = get_recovery("cellar_loss")
    source = f"{lost.value:g} % lost in the cellar ({lost.source}); published 66.3 to 95 %"
    return _recovery(
        own_percent, 100 - lost.value, (WORT_TO_BEER_PERCENT_MIN, WORT_TO_BEER_PERCENT_MAX), source
    )


def _recovery(own: float | None, default: float, published: tuple[float, float], source: str) -> RecoveryUsed:
    if own is not None:
        return RecoveryUsed(own, *published, is_default=False, source="given in the request")
    return RecoveryUsed(default, *published, is_default=True, source=source)


# A fit on the kinetics bare of recoveries: its factor stands for both of them.
ALL_RECOVERED = RecoveryUsed(100.0, 100.0, 100.0, is_default=False, source="in the brewery's own factor")
