"""Recipes and lots in BeerJSON, the open exchange format: hop additions read in, a lot written out.

Its `percent_lost` is the share of alpha lost in six months; it is never read as a Hop Storage Index, nor is an
index ever written into it.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from service.errors import InvalidRequest
from service.facts import Fact
from service.science.bitterness import HIGHEST_TABLE_PLATO, plato_from_sg
from service.science.boiling import boiling_point_c
from service.science.customary import L_PER_US_BARREL, L_PER_US_GALLON, celsius_from_fahrenheit
from service.science.interchange import amount_g, duration_minutes

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
# A step of the boil that is so much cooler than the kettle boils is a hop stand: house rule, no source.
STAND_BELOW_BOIL_C = 3.0
NOT_THE_INDEX = (
    "percent_lost is the alpha lost in six months at room temperature, not the Hop Storage Index; it is not used "
    "here, for the alpha is taken as it stands, or from the lot."
)
LOOKS_LIKE_AN_INDEX = (
    "A percent_lost under 2.03 looks like a Hop Storage Index, which has no place in this field; compare it with "
    "its source."
)


class RecipeRead(Fact, frozen=True, kw_only=True):
    """A recipe's brew as `make_brew` takes it, and what of the document changed nothing."""

    name: str
    brew: dict[str, Any]
    inputs_not_used: tuple[str, ...]
    cautions: tuple[str, ...]


def read_recipe(
    document: Mapping[str, Any],
    *,
    recipe: int,
    lot_by_addition: Mapping[int, str],
    elevation_m: float | None,
) -> RecipeRead:
    """Read the hop additions of one recipe, each bound to a lot where that is asked.

    Raises:
        InvalidRequest: there is no such recipe or addition, or an addition does not say what is needed.

    """
    recipes = document.get("recipes") or []
    if recipe >= len(recipes):
        raise _refused("#/recipe", f"the document holds {len(recipes)} recipes; they are counted from 0")
    told, base = recipes[recipe], f"#/beerjson/recipes/{recipe}"
    hops = told["ingredients"].get("hop_additions") or []
    if not hops:
        raise _refused(f"{base}/ingredients", "the recipe holds no hop additions")
    for place in lot_by_addition:
        if place >= len(hops):
            raise _refused("#/lots", f"the recipe holds {len(hops)} hop additions; they are counted from 0")
    wort = _wort(told, base, elevation_m)
    boil_c = boiling_point_c(elevation_m=elevation_m or 0.0, gravity_plato=_plato(wort))
    brew: dict[str, Any] = {
        "wort": wort,
        "additions": [
            _addition(
                hop,
                told.get("boil") or {},
                boil_c=boil_c,
                pointer=f"{base}/ingredients/hop_additions/{place}",
                lot_code=lot_by_addition.get(place),
            )
            for place, hop in enumerate(hops)
        ],
    }
    if "boil" in told:
        brew["kettle"] = {"boil_minutes": _minutes(told["boil"]["boil_time"])}
    lost = _percents_lost(document)
    return RecipeRead(
        name=told["name"],
        brew=brew,
        inputs_not_used=(
            *(f"hop_additions/{place}/alpha_acid" for place in sorted(lot_by_addition)),
            *(f"hop_varieties/{place}/percent_lost" for place in lost),
        ),
        cautions=tuple(_lost_cautions(lost)),
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


def _wort(told: Mapping[str, Any], base: str, elevation_m: float | None) -> dict[str, Any]:
    volume, gravity = told["batch_size"], told.get("original_gravity")
    if gravity is None:
        raise _refused(f"{base}/original_gravity", "the gravity of the wort is needed")
    name = "gravity_sg" if gravity["unit"] == "sg" else "gravity_plato"
    wort = {
        "volume_l": volume["value"] * LITRES_BY_UNIT[volume["unit"]],
        # The batch is what goes into the fermenter.
        "volume_of": "cold_wort",
        name: gravity["value"],
    }
    low, high = (1.0, 1.15) if name == "gravity_sg" else (0.0, plato_from_sg(gravity_sg=1.15))
    if not low <= gravity["value"] <= min(high, HIGHEST_TABLE_PLATO):
        raise _refused(f"{base}/original_gravity/value", f"a gravity of {low:g} to {high:.4g} is wanted")
    if not 0.1 <= wort["volume_l"] <= 10_000_000:
        raise _refused(f"{base}/batch_size/value", "a volume of 0.1 to 10000000 L is wanted")
    return wort if elevation_m is None else {**wort, "elevation_m": elevation_m}


def _plato(wort: Mapping[str, Any]) -> float:
    told: float | None = wort.get("gravity_plato")
    return plato_from_sg(gravity_sg=wort["gravity_sg"]) if told is None else told


def _minutes(time: Mapping[str, Any]) -> float:
    return duration_minutes(value=time["value"], unit=time["unit"])


def _celsius(temperature: Mapping[str, Any]) -> float:
    value: float = temperature["value"]
    return value if temperature["unit"] == "C" else celsius_from_fahrenheit(temperature_f=value)


def _addition(
    hop: Mapping[str, Any], boil: Mapping[str, Any], *, boil_c: float, pointer: str, lot_code: str | None
) -> dict[str, Any]:
    amount, timing = hop["amount"], hop["timing"]
    if amount["unit"] in LITRES_BY_UNIT:
        raise _refused(f"{pointer}/amount/unit", "hops are reckoned by mass; extract by volume is not")
    if hop.get("form") == "extract":
        raise _refused(f"{pointer}/form", "extract is not reckoned: no published rule here is for it")
    if timing.get("continuous"):
        raise _refused(f"{pointer}/timing/continuous", "hops added without pause: give several additions")
    if "use" not in timing:
        raise _refused(f"{pointer}/timing/use", "say where the hops go: mash, boil, fermentation or package")
    read: dict[str, Any] = {
        "mass_g": amount_g(value=amount["value"], unit=amount["unit"]),
        "pointer": pointer,
        **_placed(timing, boil, boil_c=boil_c, pointer=f"{pointer}/timing"),
    }
    if not 0 < read["mass_g"] <= 10_000_000:
        raise _refused(f"{pointer}/amount/value", "a mass over 0 and up to 10000000 g is wanted")
    if lot_code is not None:
        return {**read, "lot_code": lot_code}
    if "form" in hop:
        read["form"] = FORM_BY_WORD[hop["form"]]
    return {**read, "alpha_percent": hop["alpha_acid"]["value"]}


def _placed(
    timing: Mapping[str, Any], boil: Mapping[str, Any], *, boil_c: float, pointer: str
) -> dict[str, Any]:
    """Where, how long and how hot."""
    at = AT_BY_USE[timing["use"]]
    stay = {"minutes": _minutes(timing["duration"])} if "duration" in timing else {}
    if at != "boil":
        return {"at": at, **stay}
    step = _step(timing, boil, pointer)
    heats = [_celsius(step[name]) for name in ("start_temperature", "end_temperature") if name in step]
    mean_c = sum(heats) / len(heats) if heats else boil_c
    if mean_c < boil_c - STAND_BELOW_BOIL_C:
        if "step_time" in step:
            stay = {"minutes": _minutes(step["step_time"]), **stay}
        return {"at": "whirlpool", "temperature_c": mean_c, **stay}
    if not stay and "time" in timing and "boil_time" in boil:
        stay = {"minutes": _minutes(boil["boil_time"]) - _minutes(timing["time"])}
        if stay["minutes"] < 0:
            raise _refused(f"{pointer}/time", "the hops would go in after the boil has ended")
    if not stay:
        raise _refused(f"{pointer}/duration", "how long the hops boil is needed")
    return {"at": "boil", **stay}


def _step(timing: Mapping[str, Any], boil: Mapping[str, Any], pointer: str) -> Mapping[str, Any]:
    steps: Sequence[Mapping[str, Any]] = boil.get("boil_steps") or []
    number: int | None = timing.get("step")
    if number is None:
        return {}
    if not 1 <= number <= len(steps):
        raise _refused(f"{pointer}/step", f"the boil holds {len(steps)} steps; they are counted from 1")
    return steps[number - 1]
