"""Utilization by the rates of isomerisation, followed through boil, whirlpool and cooling, then what is recovered."""

from collections.abc import Callable, Iterable, Iterator, Mapping

from service.market.brewing.brews import Brew, Reach
from service.market.brewing.methods import (
    ALWAYS,
    BOILING,
    DEFAULT_KETTLE_TO_WORT,
    DEFAULT_WORT_TO_BEER,
    EXTRAPOLATED,
    MALOWICKI,
    Method,
    RecoveryUsed,
    Used,
    additions_not_used,
    hot_additions,
)
from service.market.brewing.tinseth import used_of as tinseth_used_of
from service.reference.assumptions import get_assumption
from service.science.bitterness import LONGEST_MINUTES as TINSETH_LONGEST_MINUTES
from service.science.bitterness import plato_from_sg
from service.science.boiling import boiling_point_c
from service.science.isomerization import HIGHEST_C, LONGEST_MINUTES, LOWEST_C
from service.science.kettle import COLDEST_C, Hold, KettleYield, Readings, Stretch, kettle_yields
from service.science.recoveries import (
    KETTLE_TO_WORT_PERCENT_MAX,
    KETTLE_TO_WORT_PERCENT_MIN,
    WORT_TO_BEER_PERCENT_MAX,
    WORT_TO_BEER_PERCENT_MIN,
    cold_wort_volume_l,
    kettle_to_wort_percent,
    kinetic_utilization_percent,
)

OWN = "given in the request"
# More than this many times what the published rule gives is said, with the reason.
MOST_TIMES_TINSETH = 2.0


def uses(brew: Brew) -> tuple[Used, ...]:
    """Each hot addition followed to the end of the kettle, then the two recoveries."""
    recovered = recoveries(brew)
    kettle, beer = recovered["kettle_to_wort_percent"], recovered["wort_to_beer_percent"]
    scatter = {"kettle_to_wort": kettle.scatter, "wort_to_beer": beer.scatter}
    found = []
    for place, iso in enumerate(yields(brew)):
        percent = kinetic_utilization_percent(
            iso_fraction=_fraction(iso),
            kettle_to_wort_percent=kettle.percent,
            wort_to_beer_percent=beer.percent,
        )
        cautions = (*_extrapolated(iso), *_over_tinseth(brew, place, percent))
        found.append(Used(percent=percent, scatter=scatter, cautions=cautions))
    return tuple(found)


def uses_of_brewhouse(brew: Brew) -> tuple[Used, ...]:
    """Each hot addition as it leaves the reactions in the kettle."""
    return tuple(Used(percent=100 * _fraction(iso), cautions=_extrapolated(iso)) for iso in yields(brew))


def _fraction(iso: KettleYield) -> float:
    return min(max(iso.iso_fraction, 0.0), 1.0)


def _extrapolated(iso: KettleYield) -> tuple[str, ...]:
    return (EXTRAPOLATED,) if iso.is_extrapolated else ()


def _over_tinseth(brew: Brew, place: int, percent: float) -> Iterator[str]:
    addition = hot_additions(brew)[place]
    minutes, stands = addition.minutes or 0.0, addition.at == "whirlpool"
    heat = addition.temperature_c
    if minutes > TINSETH_LONGEST_MINUTES or (stands and (heat is None or heat < LOWEST_C)):
        return
    rule = tinseth_used_of(addition, brew).percent
    if percent <= MOST_TIMES_TINSETH * rule:
        return
    why = [words for holds, words in _REASONS if holds(brew)]
    because = " and ".join(why) or "the rates go on where the published rule levels off"
    yield (
        f"This is {percent / rule:.1f} times what the published rule of Tinseth gives ({rule:.1f} %): {because}. "
        "Measure a beer before relying on it."
    )


def _has_own_recoveries(brew: Brew) -> bool:
    return any(not used.is_default for used in recoveries(brew).values())


# Why kinetics may run ahead of the published rule; from which gravity and elevation on is a house figure.
_REASONS: tuple[tuple[Callable[[Brew], bool], str], ...] = (
    (
        lambda brew: brew.wort.gravity_sg > 1.070,
        "gravity is high, where the published rule falls more steeply",
    ),
    (
        lambda brew: (brew.wort.elevation_m or 0.0) > 500,
        "the kettle boils cooler, which slows the rule as a whole and the rates less in a long boil",
    ),
    (
        lambda brew: bool(brew.kettle.at_minutes) or any(a.at == "whirlpool" for a in brew.additions),
        "the hops go on isomerising in the whirlpool, which the rule leaves out",
    ),
    (_has_own_recoveries, "the recoveries were given in the request"),
)


def recoveries(brew: Brew) -> Mapping[str, RecoveryUsed]:
    """The shares that reach wort and beer: the brewery's own, else the defaults for this gravity."""
    told = brew.recoveries
    return {
        "kettle_to_wort_percent": _kettle_to_wort(told.kettle_to_wort_percent, brew.wort.gravity_sg),
        "wort_to_beer_percent": _wort_to_beer(told.wort_to_beer_percent),
    }


def _kettle_to_wort(own: float | None, gravity_sg: float) -> RecoveryUsed:
    published = (KETTLE_TO_WORT_PERCENT_MIN, KETTLE_TO_WORT_PERCENT_MAX)
    if own is not None:
        return _recovery(own, own, own, published, is_default=False, source=OWN)
    fall = get_assumption("kinetic_fall_per_gravity")
    middle, low, high = (
        kettle_to_wort_percent(gravity_sg=gravity_sg, fall_per_gravity=steepness)
        for steepness in (fall.value, fall.high, fall.low)
    )
    return _recovery(middle, low, high, published, is_default=True, source=fall.source)


def _wort_to_beer(own: float | None) -> RecoveryUsed:
    published = (WORT_TO_BEER_PERCENT_MIN, WORT_TO_BEER_PERCENT_MAX)
    if own is not None:
        return _recovery(own, own, own, published, is_default=False, source=OWN)
    share = get_assumption("wort_to_beer_percent")
    return _recovery(share.value, share.low, share.high, published, is_default=True, source=share.source)


def _recovery(
    percent: float, low: float, high: float, published: tuple[float, float], *, is_default: bool, source: str
) -> RecoveryUsed:
    return RecoveryUsed(
        percent=percent,
        low_percent=low,
        high_percent=high,
        published_low_percent=published[0],
        published_high_percent=published[1],
        is_default=is_default,
        source=source,
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


def yields(brew: Brew) -> tuple[KettleYield, ...]:
    """Alpha, iso-alpha and losses of the hot additions, in their order."""
    boil = boil_minutes(brew)
    profile: list[Stretch] = [Hold(boil, boil_c(brew)), *_after_boil(brew)]
    end = 0.0
    for stretch in profile:
        start, minutes = stretch.rows(end)[-1][:2]
        end = start + minutes
    added = [
        max(0.0, (end if a.at == "whirlpool" else boil) - (a.minutes or 0.0)) for a in hot_additions(brew)
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


def volume_l(brew: Brew) -> float:
    """The cold wort that the bitterness is counted in."""
    lost = brew.recoveries.wort_lost_percent
    if brew.wort.volume_of == "cold_wort" or not lost:
        return brew.wort.volume_l
    return cold_wort_volume_l(beer_volume_l=brew.wort.volume_l, wort_lost_percent=lost)


def kettle_words(brew: Brew) -> Iterator[str]:
    """What is taken for granted of the kettle."""
    yield "a milligram of iso-alpha acids in a litre counts as one IBU (a convention; they differ in real beer)"
    elevation_m = brew.wort.elevation_m
    place = "sea level, for no elevation was given" if elevation_m is None else f"{elevation_m:g} m"
    yield f"the kettle boils at {boil_c(brew):.1f} °C, at {place}, in mean weather"
    if any(a.at == "whirlpool" for a in brew.additions) and not brew.kettle.at_minutes:
        yield "the wort keeps the temperature of the whirlpool that was given, then cools at once"
    elif not brew.kettle.at_minutes:
        yield "the wort is cooled at once when the boil ends"


def words(brew: Brew) -> Iterator[str]:
    """What the rates and the recoveries take for granted of a brew."""
    yield from kettle_words(brew)
    for name, used in recoveries(brew).items():
        if used.is_default:
            vessels = name.removesuffix("_percent").replace("_", " ")
            yield (
                f"recovery from {vessels}: {used.percent:.1f} %, {used.low_percent:.1f} to {used.high_percent:.1f} %, "
                f"a default because none was given; published at the extremes {used.published_low_percent:g} to "
                f"{used.published_high_percent:g} %"
            )
    if brew.wort.volume_of == "finished_beer" and brew.recoveries.wort_lost_percent is None:
        yield "no loss of volume from cold wort to beer was given, so none is counted"


def inputs_not_used(brew: Brew) -> Iterator[str]:
    """What was told and changed nothing."""
    if brew.recoveries.wort_lost_percent is not None and brew.wort.volume_of == "cold_wort":
        yield "recoveries/wort_lost_percent"
    yield from additions_not_used(brew, reads_temperatures=True, reads_gravity=False)


KINETIC = Method(
    code="kinetic",
    base_model="kinetic",
    reach=Reach(longest_minutes=LONGEST_MINUTES, whirlpool_c=(COLDEST_C, HIGHEST_C), reads_temperatures=True),
    uses=uses,
    uses_of_brewhouse=uses_of_brewhouse,
    ratios_by_need={
        ALWAYS: ("kinetic_model_spread_ratio",),
        "first_wort": ("first_wort_factor",),
        "wet_hop": ("wet_hop_utilization_ratio",),
    },
    rows_by_need={
        DEFAULT_KETTLE_TO_WORT: ("kinetic_fall_per_gravity",),
        DEFAULT_WORT_TO_BEER: ("wort_to_beer_percent",),
    },
    sources_by_need={ALWAYS: (MALOWICKI, BOILING)},
    words=words,
    words_of_brewhouse=kettle_words,
    inputs_not_used=inputs_not_used,
    recoveries=recoveries,
    volume_l=volume_l,
)
