"""Utilization by the published rule of Tinseth, and by a derived convention where the wort does not boil at 100 °C."""

from collections.abc import Iterator

from service.market.brewing.brews import VOLUME_WORDS, Addition, Brew, Reach
from service.market.brewing.methods import (
    ALWAYS,
    BOILING,
    ELEVATION,
    EXTRAPOLATED,
    MALOWICKI,
    Method,
    Used,
    additions_not_used,
    gravity_of,
    hot_additions,
    recoveries_not_used,
)
from service.science.bitterness import (
    LONGEST_MINUTES,
    plato_from_sg,
    tinseth_utilization_percent,
    tinseth_whirlpool_utilization_percent,
)
from service.science.boiling import boiling_point_c
from service.science.isomerization import HIGHEST_C, LOWEST_C, is_extrapolated

CONVENTION = (
    "the boil's utilization times k1(T)/k1(boil at sea level), a derived convention, not a published one"
)


def uses(brew: Brew) -> tuple[Used, ...]:
    """Each hot addition by the published rule; slowed like the isomerisation where the wort is cooler."""
    return tuple(used_of(addition, brew) for addition in hot_additions(brew))


def used_of(addition: Addition, brew: Brew) -> Used:
    """One hot addition by the published rule."""
    gravity_sg, minutes = gravity_of(addition, brew), addition.minutes or 0.0
    temperature_c = addition.temperature_c
    if addition.at != "whirlpool":
        temperature_c = kettle_c(brew, gravity_sg=gravity_sg)
    if temperature_c is None:
        return Used(percent=tinseth_utilization_percent(gravity_sg=gravity_sg, minutes=minutes))
    return Used(
        percent=tinseth_whirlpool_utilization_percent(
            gravity_sg=gravity_sg, minutes=minutes, temperature_c=temperature_c
        ),
        cautions=(EXTRAPOLATED,) if is_extrapolated(temperature_c=temperature_c) else (),
    )


def kettle_c(brew: Brew, *, gravity_sg: float) -> float | None:
    """The temperature at which the kettle boils, or None where no elevation is told: as the rule was measured."""
    if brew.wort.elevation_m is None:
        return None
    return boiling_point_c(
        elevation_m=brew.wort.elevation_m, gravity_plato=plato_from_sg(gravity_sg=gravity_sg)
    )


def words(brew: Brew) -> Iterator[str]:
    """What the rule takes for granted of a brew."""
    wort = brew.wort
    yield f"the volume is taken as it stands: {wort.volume_l:g} L of {VOLUME_WORDS[wort.volume_of]}"
    boils_c = kettle_c(brew, gravity_sg=wort.gravity_sg)
    if boils_c is not None and _boils(brew):
        yield f"the kettle boils at {boils_c:.1f} °C, at {wort.elevation_m:g} m, in mean weather: {CONVENTION}"
    if any(addition.at == "whirlpool" for addition in brew.additions):
        yield f"whirlpool: {CONVENTION}"


def inputs_not_used(brew: Brew) -> Iterator[str]:
    """What was told and changed nothing."""
    if brew.wort.elevation_m is not None and not _boils(brew):
        yield "elevation_m"
    if brew.kettle.boil_minutes is not None:
        yield "kettle/boil_minutes"
    if brew.kettle.at_minutes:
        yield "kettle/readings"
    yield from recoveries_not_used(brew)
    yield from additions_not_used(brew, reads_temperatures=False, reads_gravity=True)


def _boils(brew: Brew) -> bool:
    return any(addition.at in ("boil", "first_wort") for addition in brew.additions)


TINSETH = Method(
    code="tinseth",
    base_model="tinseth",
    reach=Reach(longest_minutes=LONGEST_MINUTES, whirlpool_c=(LOWEST_C, HIGHEST_C), reads_temperatures=False),
    uses=uses,
    uses_of_brewhouse=uses,
    ratios_by_need={
        "boil": ("tinseth_model_spread_ratio",),
        "first_wort": ("tinseth_model_spread_ratio", "first_wort_factor"),
        "whirlpool": ("whirlpool_model_spread_ratio",),
        "wet_hop": ("wet_hop_utilization_ratio",),
    },
    sources_by_need={
        ALWAYS: ("G. Tinseth, hop utilisation article: utilization and mg/L formula",),
        "whirlpool": (MALOWICKI, BOILING),
        ELEVATION: (MALOWICKI, BOILING),
    },
    words=words,
    words_of_brewhouse=words,
    inputs_not_used=inputs_not_used,
)
