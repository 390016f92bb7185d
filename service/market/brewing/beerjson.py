"""Recipes in BeerJSON, the open exchange format: its hop additions, each reckoned or with the reason why not.

The format is read liberally: a hop that cannot be reckoned never stops the others, and what changed nothing is named.
Its `percent_lost` is the share of alpha lost in six months; it is never read as a Hop Storage Index.
"""

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from service.errors import InvalidRequest
from service.facts import Fact
from service.market.brewing.brews import HOT, Reach
from service.science.bitterness import HIGHEST_TABLE_PLATO, plato_from_sg, sg_from_plato
from service.science.boiling import boiling_point_c
from service.science.customary import KG_PER_LB, L_PER_US_BARREL, L_PER_US_GALLON, celsius_from_fahrenheit
from service.science.interchange import GRAMS_BY_UNIT, amount_g, duration_minutes

# NIST Handbook 44, Appendix C, for the US units; Weights and Measures Act 1985 (UK) for the imperial gallon.
L_PER_IMPERIAL_GALLON = 4.54609
LITRES_BY_UNIT = {
    "ml": 0.001,
    "l": 1.0,
    "tsp": L_PER_US_GALLON / 768,
    "tbsp": L_PER_US_GALLON / 256,
    "floz": L_PER_US_GALLON / 128,
    "cup": L_PER_US_GALLON / 16,
    "pt": L_PER_US_GALLON / 8,
    "qt": L_PER_US_GALLON / 4,
    "gal": L_PER_US_GALLON,
    "bbl": L_PER_US_BARREL,
    "ifloz": L_PER_IMPERIAL_GALLON / 160,
    "ipt": L_PER_IMPERIAL_GALLON / 8,
    "iqt": L_PER_IMPERIAL_GALLON / 4,
    "igal": L_PER_IMPERIAL_GALLON,
    "ibbl": 36 * L_PER_IMPERIAL_GALLON,
}
FORM_BY_WORD = {
    "leaf": "whole_cone",
    "plug": "whole_cone",
    "leaf (wet)": "wet_hop",
    "pellet": "pellet",
    "powder": "pellet",
}
AT_BY_USE = {
    "add_to_mash": "mash",
    "add_to_boil": "boil",
    "add_to_fermentation": "dry_hop",
    "add_to_package": "dry_hop",
}
# A step that is so much cooler than the kettle boils is not the boil itself: house rule, no source.
NOT_BOILING_BELOW_C = 3.0
# What is read of a hop, its timing and a step of the boil; other members are named as not used.
READ_OF_HOP = {"name", "alpha_acid", "amount", "timing", "form"}
READ_OF_TIMING = {"use", "duration", "time", "step", "continuous"}
READ_OF_STEP = {"name", "description", "start_temperature", "end_temperature", "step_time"}
# Fermentables that do not pass through the mash give all their extract: common practice, no source.
MASHED = ("grain", "other", "fruit")
# Density of water at 20 °C, kg/L (IAPWS-95), to turn a gravity at 20/20 °C into mass.
WATER_KG_PER_L = 0.99821
BEFORE_THE_END = "before_the_end"
FROM_THE_START = "from_the_start"
NOT_THE_INDEX = (
    "percent_lost is the alpha lost in six months at room temperature, not the Hop Storage Index; it is not used "
    "here, for the alpha is taken as it stands, or from the lot."
)
LOOKS_LIKE_AN_INDEX = (
    "A percent_lost under 2.03 looks like a Hop Storage Index, which has no place in this field; compare it with "
    "its source."
)


class HopRead(Fact, frozen=True, kw_only=True):
    """A hop of the recipe: which addition of the brew it became, or the reason why it became none."""

    name: str
    addition: int | None
    reason: str | None


class RecipeRead(Fact, frozen=True, kw_only=True):
    """A recipe's brew as `make_brew` takes it, and what of the document changed nothing.

    `other_brew` reads the hops' `time` as minutes before the end of the boil, where the recipe gives no duration.
    """

    name: str
    brew: dict[str, Any]
    other_brew: dict[str, Any] | None
    hops: tuple[HopRead, ...]
    inputs_not_used: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


class _NotReckoned(Exception):  # noqa: N818 -- a reason, not an error; it never leaves this module
    """Why an addition gives no bitterness that can be estimated."""


def read_recipe(
    document: Mapping[str, Any],
    *,
    recipe: int,
    lot_by_addition: Mapping[int, str],
    reach: Reach,
    elevation_m: float | None = None,
    gravity: Mapping[str, float] | None = None,
) -> RecipeRead:
    """Read the hop additions of one recipe, each bound to a lot where that is asked.

    Args:
        document: the document as the schema read it.
        recipe: which recipe, from 0.
        lot_by_addition: the lot in the place of a hop, by the hop's place.
        reach: how far the method reaches.
        elevation_m: where the kettle stands.
        gravity: `gravity_sg` or `gravity_plato`, where the caller gives it beside the document.

    Raises:
        InvalidRequest: there is no such recipe or hop, or volume or gravity are missing or out of range.

    """
    recipes = document.get("recipes") or []
    if recipe >= len(recipes):
        raise _refused("#/recipe", f"the document holds {len(recipes)} recipes; they are counted from 0")
    found, base = recipes[recipe], f"#/beerjson/recipes/{recipe}"
    hops = found["ingredients"].get("hop_additions") or []
    if not hops:
        raise _refused(f"{base}/ingredients", "the recipe holds no hop additions")
    for place in lot_by_addition:
        if place >= len(hops):
            raise _refused("#/lots", f"the recipe holds {len(hops)} hop additions; they are counted from 0")
    wort, words, unused = _wort(found, base, elevation_m, gravity)
    boil = _boil(
        found.get("boil") or {}, boiling_point_c(elevation_m=elevation_m or 0.0, gravity_plato=_plato(wort))
    )
    brew: dict[str, Any] = {"wort": wort}
    if boil.minutes is not None:
        brew["kettle"] = {"boil_minutes": boil.minutes}

    def read_hops(reading: str) -> tuple[list[dict[str, Any]], list[HopRead]]:
        additions: list[dict[str, Any]] = []
        read: list[HopRead] = []
        for place, hop in enumerate(hops):
            pointer, lot_code = f"{base}/ingredients/hop_additions/{place}", lot_by_addition.get(place)
            try:
                addition = _addition(hop, boil, reach=reach, lot_code=lot_code, reading=reading)
            except _NotReckoned as reason:
                read.append(HopRead(name=hop["name"], addition=None, reason=str(reason)))
            else:
                read.append(HopRead(name=hop["name"], addition=len(additions), reason=None))
                additions.append({**addition, "pointer": pointer})
        return additions, read

    additions, read = read_hops(FROM_THE_START)
    has_two_readings = any(_has_two_readings(hop, boil) for hop in hops)
    lost = _percents_lost(document)
    return RecipeRead(
        name=found["name"],
        brew={**brew, "additions": additions},
        other_brew={**brew, "additions": read_hops(BEFORE_THE_END)[0]} if has_two_readings else None,
        hops=tuple(read),
        inputs_not_used=(
            *unused,
            *_unused_of_hops(hops, boil, lot_by_addition),
            *_unused_of_boil(hops, boil),
            *(f"hop_varieties/{place}/percent_lost" for place in lost),
        ),
        assumptions=tuple(words),
        cautions=tuple(_lost_cautions(lost)),
    )


def other_reading_caution(ibu: float | None) -> str:
    """What the recipe gives where `time` is read the other way."""
    gives = "no bitterness that can be estimated" if ibu is None else f"{ibu:.3g} IBU"
    return (
        "The time of a hop without a duration is read as the schema says, from the start of the step. Read as minutes"
        f" before the end of the boil, as some documents mean it, the recipe gives {gives}."
    )


def _refused(pointer: str, text: str) -> InvalidRequest:
    return InvalidRequest(text, errors=[{"pointer": pointer, "detail": text}])


def _percents_lost(document: Mapping[str, Any]) -> dict[int, float]:
    varieties: Sequence[Mapping[str, Any]] = document.get("hop_varieties") or []
    return {
        place: variety["percent_lost"]["value"]
        for place, variety in enumerate(varieties)
        if "percent_lost" in variety
    }


def _lost_cautions(lost: Mapping[int, float]) -> Iterator[str]:
    if lost:
        yield NOT_THE_INDEX
    if any(0 < value <= 2.03 for value in lost.values()):
        yield LOOKS_LIKE_AN_INDEX


def _wort(
    found: Mapping[str, Any], base: str, elevation_m: float | None, gravity: Mapping[str, float] | None
) -> tuple[dict[str, Any], list[str], list[str]]:
    """The wort, the assumptions behind its gravity, and what of the document it did not use."""
    volume, stated = found["batch_size"], found.get("original_gravity")
    volume_l = volume["value"] * LITRES_BY_UNIT[volume["unit"]]
    if not 0.1 <= volume_l <= 10_000_000:
        raise _refused(f"{base}/batch_size/value", "a volume of 0.1 to 10000000 L is wanted")
    words: list[str] = []
    if gravity:
        name, value = next(iter(gravity.items()))
        pointer = f"#/{name}"
    elif stated is not None:
        name, value = ("gravity_sg" if stated["unit"] == "sg" else "gravity_plato"), stated["value"]
        pointer = f"{base}/original_gravity/value"
    else:
        name, value = "gravity_sg", _gravity_of_fermentables(found, volume_l, base, words)
        pointer = f"{base}/ingredients/fermentable_additions"
    low, high = (1.0, 1.15) if name == "gravity_sg" else (0.0, plato_from_sg(gravity_sg=1.15))
    if not low <= value <= min(high, HIGHEST_TABLE_PLATO):
        raise _refused(pointer, f"a gravity of {low:g} to {high:.4g} is wanted, not {value:.4g}")
    # The batch is what goes into the fermenter.
    wort: dict[str, Any] = {"volume_l": volume_l, "volume_of": "cold_wort", name: value}
    if elevation_m is not None:
        wort["elevation_m"] = elevation_m
    return wort, words, ["original_gravity"] if gravity and stated is not None else []


def _gravity_of_fermentables(found: Mapping[str, Any], volume_l: float, base: str, words: list[str]) -> float:
    """The gravity of the wort from the extract of its fermentables; refused where a figure is missing."""
    additions: Sequence[Mapping[str, Any]] = found["ingredients"].get("fermentable_additions") or []
    efficiency = ((found.get("efficiency") or {}).get("brewhouse") or {}).get("value")
    extracts_kg = [_extract_kg(one, efficiency) for one in additions]
    known_kg = [extract for extract in extracts_kg if extract is not None]
    if not known_kg or len(known_kg) < len(extracts_kg):
        text = (
            "the gravity of the wort is needed: give original_gravity, or gravity_sg beside the document; the"
            " fermentables do not all give mass and yield, or the recipe no brewhouse efficiency"
        )
        raise _refused(f"{base}/original_gravity", text)
    # P % of the wort's mass is extract, and its mass is volume times gravity.
    gravity_sg, extract_kg = 1.0, sum(known_kg)
    for _ in range(30):
        plato = 100 * extract_kg / (volume_l * gravity_sg * WATER_KG_PER_L)
        gravity_sg = sg_from_plato(gravity_plato=min(plato, HIGHEST_TABLE_PLATO))
    words.append(
        f"the gravity {gravity_sg:.4f} is reckoned from the fermentables: {extract_kg:.3g} kg of extract by their yield,"
        f" {efficiency:g} % brewhouse efficiency for what is mashed, in {volume_l:.4g} L"
    )
    return gravity_sg


def _extract_kg(one: Mapping[str, Any], efficiency: float | None) -> float | None:
    amount, given = one.get("amount") or {}, one.get("yield") or {}
    if amount.get("unit") not in GRAMS_BY_UNIT or not isinstance(amount.get("value"), int | float | Decimal):
        return None
    mass_kg = amount_g(value=float(amount["value"]), unit=amount["unit"]) / 1000
    share = _extract_share(given)
    if share is None:
        return None
    if one.get("type", "grain") not in MASHED:
        return mass_kg * share
    return None if efficiency is None else mass_kg * share * efficiency / 100


def _extract_share(given: Mapping[str, Any]) -> float | None:
    """The extract in a mass of fermentable: its fine grind yield, or the gravity of a pound in a US gallon."""
    fine, potential = given.get("fine_grind") or {}, given.get("potential") or {}
    if isinstance(fine.get("value"), int | float | Decimal):
        return float(fine["value"]) / 100
    if potential.get("unit") == "sg" and isinstance(potential.get("value"), int | float | Decimal):
        gravity_sg = float(potential["value"])
        if 1.0 <= gravity_sg <= 1.06:
            wort_kg = L_PER_US_GALLON * gravity_sg * WATER_KG_PER_L
            return plato_from_sg(gravity_sg=gravity_sg) / 100 * wort_kg / KG_PER_LB
    return None


def _plato(wort: Mapping[str, Any]) -> float:
    found: float | None = wort.get("gravity_plato")
    return plato_from_sg(gravity_sg=wort["gravity_sg"]) if found is None else found


def _minutes(time: Mapping[str, Any]) -> float:
    return duration_minutes(value=time["value"], unit=time["unit"])


def _celsius(temperature: Mapping[str, Any]) -> float:
    value: float = temperature["value"]
    return value if temperature["unit"] == "C" else celsius_from_fahrenheit(temperature_f=value)


class _Step(Fact, frozen=True, kw_only=True):
    """A step of the boil: the heating before it, the boil itself, or a stand after it."""

    kind: str
    mean_c: float
    minutes: float | None
    unused: tuple[str, ...]


class _Boil(Fact, frozen=True, kw_only=True):
    """How long the kettle boils, and its steps."""

    minutes: float | None
    steps: tuple[_Step, ...]


def _boil(boil: Mapping[str, Any], boil_c: float) -> _Boil:
    steps: Sequence[Mapping[str, Any]] = boil.get("boil_steps") or []
    heats = [
        [_celsius(s[name]) for name in ("start_temperature", "end_temperature") if name in s] for s in steps
    ]
    means = [sum(heat) / len(heat) if heat else boil_c for heat in heats]
    boils = [mean >= boil_c - NOT_BOILING_BELOW_C for mean in means]
    first = boils.index(True) if True in boils else None
    kinds = []
    for place, heat in enumerate(heats):
        # Where no listed step boils, wort that warms is on its way to the boil, and wort that cools comes from it.
        warms = len(heat) == 2 and heat[1] > heat[0]
        is_before = warms if first is None else place < first
        kinds.append("boil" if boils[place] else "heating" if is_before else "stand")
    made = tuple(
        _Step(
            kind=kind,
            mean_c=mean,
            minutes=_minutes(step["step_time"]) if "step_time" in step else None,
            unused=tuple(sorted(set(step) - READ_OF_STEP)),
        )
        for kind, mean, step in zip(kinds, means, steps, strict=True)
    )
    boiling = [step.minutes for step in made if step.kind == "boil" and step.minutes is not None]
    minutes = _minutes(boil["boil_time"]) if "boil_time" in boil else sum(boiling) if boiling else None
    return _Boil(minutes=minutes, steps=made)


def _addition(
    hop: Mapping[str, Any], boil: _Boil, *, reach: Reach, lot_code: str | None, reading: str
) -> dict[str, Any]:
    """One addition as `make_brew` takes it.

    Raises:
        _NotReckoned: with the reason.

    """
    amount = hop.get("amount")
    if hop.get("form") == "extract":
        raise _NotReckoned("Extract and hop oil are not reckoned: no published rule here is for them.")
    if amount is None or amount["unit"] not in GRAMS_BY_UNIT:
        raise _NotReckoned("Hops are reckoned by mass, and none is given.")
    mass_g = amount_g(value=amount["value"], unit=amount["unit"])
    if not 0 < mass_g <= 10_000_000:
        raise _NotReckoned("A mass over 0 and up to 10000000 g is wanted.")
    placed = _placed(hop.get("timing") or {}, boil, reading=reading)
    minutes, temperature_c = placed.get("minutes"), placed.get("temperature_c")
    if placed["at"] in HOT and minutes is not None and minutes > reach.longest_minutes:
        raise _NotReckoned(
            f"{minutes:g} min is longer than the method reaches, {reach.longest_minutes:g} min."
        )
    if temperature_c is not None and not reach.whirlpool_c[0] <= temperature_c <= reach.whirlpool_c[1]:
        low, high = reach.whirlpool_c
        raise _NotReckoned(
            f"{temperature_c:.4g} °C is outside what the method reaches, {low:g} to {high:g} °C."
        )
    if lot_code is not None:
        return {"mass_g": mass_g, **placed, "lot_code": lot_code}
    alpha = (hop.get("alpha_acid") or {}).get("value")
    if alpha is None:
        raise _NotReckoned("No alpha acids are given.")
    if alpha == 0:
        raise _NotReckoned("Without alpha acids there is nothing that isomerises.")
    form = FORM_BY_WORD.get(hop.get("form", ""))
    return {"mass_g": mass_g, **placed, **({"form": form} if form else {}), "alpha_percent": alpha}


def _placed(timing: Mapping[str, Any], boil: _Boil, *, reading: str) -> dict[str, Any]:
    """Where, how long and how hot.

    Raises:
        _NotReckoned: with the reason.

    """
    if timing.get("continuous"):
        raise _NotReckoned("Hops added without pause are not reckoned; give them as several additions.")
    at = AT_BY_USE.get(timing.get("use", ""))
    if at is None:
        raise _NotReckoned("Nothing says where the hops go: mash, boil, fermentation or package.")
    duration = _minutes(timing["duration"]) if "duration" in timing else None
    if at != "boil":
        return {"at": at} if duration is None else {"at": at, "minutes": duration}
    step = _step(timing, boil)
    if step is not None and step.kind == "heating":
        return {"at": "first_wort", "minutes": _minutes_after_heating(timing, step, boil, duration)}
    whole = boil.minutes if step is None else step.minutes if step.minutes is not None else boil.minutes
    minutes = duration
    if minutes is None and "time" in timing:
        time = _minutes(timing["time"])
        from_the_start = None if whole is None else whole - time
        minutes = from_the_start if reading == FROM_THE_START else time
        if minutes is not None and minutes < 0:
            raise _NotReckoned(
                f"The hops would go in {time:g} min after the start of a step of {whole:g} min."
            )
    if step is not None and step.kind == "stand":
        minutes = step.minutes if minutes is None else minutes
        if minutes is None:
            raise _NotReckoned("Nothing says how long the hops stand.")
        return {"at": "whirlpool", "temperature_c": step.mean_c, "minutes": minutes}
    if minutes is None:
        raise _NotReckoned("Nothing says how long the hops boil.")
    if boil.minutes is not None and minutes > boil.minutes:
        raise _NotReckoned(f"The hops would boil {minutes:g} min, the kettle only {boil.minutes:g} min.")
    return {"at": "boil", "minutes": minutes}


def _minutes_after_heating(
    timing: Mapping[str, Any], step: _Step, boil: _Boil, duration: float | None
) -> float:
    """How long hops that go in while the wort heats stay in the boil that follows."""
    if boil.minutes is None:
        raise _NotReckoned("Nothing says how long the wort boils.")
    if duration is None:
        return boil.minutes
    time = _minutes(timing["time"]) if "time" in timing else 0.0
    in_boil = duration - max(0.0, (step.minutes or 0.0) - time)
    if in_boil <= 0:
        raise _NotReckoned("The hops are taken out before the wort boils.")
    return min(in_boil, boil.minutes)


def _step(timing: Mapping[str, Any], boil: _Boil) -> _Step | None:
    number: int | None = timing.get("step")
    if number is None or (number == 1 and not boil.steps):
        return None
    if not 1 <= number <= len(boil.steps):
        raise _NotReckoned(
            f"The boil holds {len(boil.steps)} steps, counted from 1, and the hops go into step {number}."
        )
    return boil.steps[number - 1]


def _has_two_readings(hop: Mapping[str, Any], boil: _Boil) -> bool:
    timing = hop.get("timing") or {}
    if timing.get("use") != "add_to_boil" or "time" not in timing or "duration" in timing:
        return False
    try:
        step = _step(timing, boil)
    except _NotReckoned:
        return False
    return step is None or step.kind != "heating"


def _unused_of_hops(
    hops: Sequence[Mapping[str, Any]], boil: _Boil, lot_by_addition: Mapping[int, str]
) -> Iterator[str]:
    for place, hop in enumerate(hops):
        where, timing = f"hop_additions/{place}", hop.get("timing") or {}
        unused = set(hop) - READ_OF_HOP
        if place in lot_by_addition:
            unused.add("alpha_acid")
        if "form" in hop and hop["form"] not in FORM_BY_WORD and hop["form"] != "extract":
            unused.add("form")
        yield from (f"{where}/{name}" for name in sorted(unused))
        yield from (f"{where}/timing/{name}" for name in sorted(_unused_of_timing(timing, boil)))


def _unused_of_timing(timing: Mapping[str, Any], boil: _Boil) -> set[str]:
    unused = set(timing) - READ_OF_TIMING
    if AT_BY_USE.get(timing.get("use", "")) != "boil":
        # When hops go into the mash or the cold beer changes nothing.
        return unused | {"time", "step"} & set(timing)
    number: int | None = timing.get("step")
    is_heating = (
        number is not None and 1 <= number <= len(boil.steps) and boil.steps[number - 1].kind == "heating"
    )
    # In the boil the time stands in for a duration; in the heating before it, it shortens one.
    if "time" in timing and is_heating != ("duration" in timing):
        unused.add("time")
    return unused


def _unused_of_boil(hops: Sequence[Mapping[str, Any]], boil: _Boil) -> Iterator[str]:
    """Members of steps that are not read, and stands into which no hop goes: hops of the boil are not counted there."""
    named = {(hop.get("timing") or {}).get("step") for hop in hops}
    for number, step in enumerate(boil.steps, start=1):
        yield from (f"boil_steps/{number - 1}/{name}" for name in step.unused)
        if step.kind == "stand" and number not in named:
            yield f"boil_steps/{number - 1}"
