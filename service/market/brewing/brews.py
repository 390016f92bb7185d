"""What goes into a brew: wort, hop additions with their alpha settled, the kettle, what is lost on the way."""

from collections.abc import Iterator, Mapping

from service.errors import InvalidRequest, OutOfRange
from service.facts import Fact, field
from service.science.uncertainty import HalfWidths

AT = ("mash", "first_wort", "boil", "whirlpool", "dry_hop")
HOT = ("first_wort", "boil", "whirlpool")
VOLUME_WORDS = {"finished_beer": "finished beer", "cold_wort": "cold wort"}
VOLUMES = tuple(VOLUME_WORDS)


class Reach(Fact, frozen=True, kw_only=True):
    """How far a method's rule reaches, and whether readings of the kettle tell it the temperature."""

    longest_minutes: float
    whirlpool_c: tuple[float, float]
    reads_temperatures: bool


class Wort(Fact, frozen=True, kw_only=True):
    """The wort, or the beer it becomes; `volume_of` says which of the two the volume is."""

    volume_l: float
    gravity_sg: float
    volume_of: str = "finished_beer"
    elevation_m: float | None = None


class Alpha(Fact, frozen=True, kw_only=True):
    """The alpha acids of an addition's hops as they are used, with their scatters in natural logarithms.

    `lot_code` is None for hops whose alpha was told; additions of one lot err together.
    """

    percent: float
    scatter: Mapping[str, HalfWidths] = field(default_factory=dict)
    lot_code: str | None = None
    report: str | None = None
    method: str | None = None
    is_aged: bool = False
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


class Addition(Fact, frozen=True, kw_only=True):
    """Hops that go into the brew at one time; `minutes` is the time they stay hot.

    `pointer` says where they stand in the request, for whoever is told what is wrong with them.
    """

    alpha: Alpha
    mass_g: float
    at: str
    minutes: float | None = None
    temperature_c: float | None = None
    gravity_sg: float | None = None
    form: str | None = None
    form_factor: float = 1.0
    moisture_percent: float | None = None
    oil_ml_per_100g: float | None = None
    oil_shares_percent: Mapping[str, float] | None = None
    oil_shares_basis: str | None = None
    pointer: str = "#"


class Kettle(Fact, frozen=True, kw_only=True):
    """How long the kettle boils, and readings of the wort's temperature after the heat is off."""

    boil_minutes: float | None = None
    at_minutes: tuple[float, ...] = ()
    temperatures_c: tuple[float, ...] = ()


class Recoveries(Fact, frozen=True, kw_only=True):
    """What the brewery knows of its own losses; None where it told nothing."""

    kettle_to_wort_percent: float | None = None
    wort_to_beer_percent: float | None = None
    wort_lost_percent: float | None = None


class Brew(Fact, frozen=True, kw_only=True):
    """Everything that a bitterness is computed from."""

    wort: Wort
    additions: tuple[Addition, ...]
    kettle: Kettle = Kettle()
    recoveries: Recoveries = Recoveries()
    pointer: str = "#"


def accept_brew(brew: Brew, *, reach: Reach) -> Brew:
    """Let a brew in, or name what its additions lack.

    Raises:
        InvalidRequest: an addition lacks its time or temperature, or the kettle's times do not fit together.
        OutOfRange: a time or temperature outside what the method reaches; the addition is named.

    """
    faults = [*_missing(brew, reach), *_kettle_faults(brew)]
    if reach.reads_temperatures and not brew.kettle.at_minutes:
        faults += _torn_whirlpool(brew)
    if faults:
        raise InvalidRequest(
            "; ".join(text for _, text in faults),
            errors=[{"pointer": pointer, "detail": text} for pointer, text in faults],
        )
    for place, addition in enumerate(brew.additions):
        if addition.at in HOT:
            _check_reach(place, addition, "minutes", (0, reach.longest_minutes), "min")
        if addition.at == "whirlpool":
            _check_reach(place, addition, "temperature_c", reach.whirlpool_c, "°C")
    return brew


def _missing(brew: Brew, reach: Reach) -> Iterator[tuple[str, str]]:
    has_readings = reach.reads_temperatures and bool(brew.kettle.at_minutes)
    for addition in brew.additions:
        where = addition.pointer
        if addition.at in HOT and addition.minutes is None:
            words = "first wort" if addition.at == "first_wort" else addition.at
            yield f"{where}/minutes", f"how many minutes the {words} hops stay hot is needed"
        if addition.at == "whirlpool" and addition.temperature_c is None and not has_readings:
            yield f"{where}/temperature_c", "the temperature of a whirlpool addition is needed"


def _torn_whirlpool(brew: Brew) -> Iterator[tuple[str, str]]:
    """Hops that go into the whirlpool together lie in wort of one temperature."""
    heat_by_minutes: dict[float, float] = {}
    for addition in brew.additions:
        minutes, heat = addition.minutes, addition.temperature_c
        if addition.at != "whirlpool" or minutes is None or heat is None:
            continue
        together = heat_by_minutes.setdefault(minutes, heat)
        if together != heat:
            yield (
                f"{addition.pointer}/temperature_c",
                f"hops of the same minute lie in one wort, here of {together:g} and {heat:g} °C",
            )


def _kettle_faults(brew: Brew) -> Iterator[tuple[str, str]]:
    kettle = brew.kettle
    boil = kettle.boil_minutes
    for addition in brew.additions:
        minutes = addition.minutes or 0.0
        if addition.at in ("boil", "first_wort") and boil is not None and minutes > boil:
            yield (
                f"{addition.pointer}/minutes",
                f"the hops boil {minutes:g} min, the kettle only {boil:g} min",
            )
        if addition.at == "whirlpool" and kettle.at_minutes:
            after = kettle.at_minutes[-1] - kettle.at_minutes[0]
            if minutes > after:
                yield (
                    f"{addition.pointer}/minutes",
                    f"the hops stay {minutes:g} min, the readings after the boil last {after:g} min",
                )
    if len(kettle.at_minutes) != len(kettle.temperatures_c):
        yield (
            f"{brew.pointer}/kettle/readings/temperatures_c",
            "each reading has its minute and its temperature",
        )
    elif len(kettle.at_minutes) == 1:
        yield f"{brew.pointer}/kettle/readings/at_minutes", "at least two readings tell how wort cools"
    elif any(b <= a for a, b in zip(kettle.at_minutes, kettle.at_minutes[1:], strict=False)):
        yield f"{brew.pointer}/kettle/readings/at_minutes", "the minutes rise from reading to reading"


def _check_reach(place: int, addition: Addition, name: str, reach: tuple[float, float], unit: str) -> None:
    low, high = reach
    value: float | None = getattr(addition, name)
    if value is not None and not low <= value <= high:
        raise OutOfRange(
            f"{name} of addition {place + 1} must be {low:g} to {high:g} {unit}, not {value:g}",
            name=name,
            value=value,
            low=low,
            high=high,
            unit=unit,
            pointer=f"{addition.pointer}/{name}",
        )
