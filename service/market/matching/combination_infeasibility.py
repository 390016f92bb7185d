"""Why no lots together meet a request: which limits clash, and what would do instead, in numbers and words."""

import math
from collections.abc import Iterator, Mapping

from service.facts import replace
from service.market.matching.combination_model import DISTANCE, GRAM, LOTS, NEED, PARCEL, Mix, breaks
from service.market.matching.combination_solving import LEAST_SHARE, Mixed, solve_mix
from service.market.matching.combinations import LetGo, WhyNone
from service.market.matching.combining import BEST_SHARE, Combined
from service.market.matching.needs import Needs
from service.market.matching.requests import Request

# Limits that are only just kept leave a solver a single point: so much room is given to each.
ROOM = 1e-4
UNITS = {
    "alpha_percent_min": "%",
    "alpha_percent_max": "%",
    "moisture_percent_max": "%",
    "hop_storage_index_max": "",
    "oil_ml_per_100g_min": "mL/100 g",
    "price_per_kg_max": "per kg",
    "price_per_kg_alpha_max": "per kg of alpha acids",
    "within_km": "km",
    "lots_max": "lots",
    "parcel_kg_min": "kg",
    "mass_kg": "kg",
    "alpha_kg": "kg of alpha acids",
    "deliveries": "of what is wanted",
}


def why_none(
    request: Request, combined: Combined, *, seconds: float, others: Mapping[str, int] | None = None
) -> WhyNone:
    """Try each limit alone; where none does, the smallest set of them that does together.

    `others` tells how many lots were kept out before by one limit on single lots alone, by its name.
    """
    why = _why_none(request, combined, seconds=seconds)
    told = [
        f"{count} {'lot fails' if count == 1 else 'lots fail'} only {name}"
        for name, count in (others or {}).items()
    ]
    if not told:
        return why
    lead = "beside the lots that were combined, " if combined.mix is not None else ""
    return replace(why, words=f"{why.words}; {lead}{', '.join(told)}")


def _why_none(request: Request, combined: Combined, *, seconds: float) -> WhyNone:
    if combined.mix is None or combined.mixed is None:
        return WhyNone(words=_no_lots(combined))
    mix, needs = combined.mix, combined.ranking.needs
    if combined.mixed.is_possible is None:
        told = "no combination was found in the time there was; that there is none is not proven"
        return WhyNone(words=f"{told}. Give more seconds, or ask for fewer lots or within a shorter distance")
    names = list(_can_be_let_go(request, mix))
    each = seconds * (1 - BEST_SHARE) / (len(names) + 1)
    any_one = [
        let_go
        for name in names
        for let_go in _let_go(request, needs, mix, solve_mix(mix, seconds=each, let_go=[name]))
    ]
    if any_one:
        return WhyNone(words=_words("any one of these would do", any_one), any_one=tuple(any_one))
    several = solve_mix(mix, seconds=each, let_go=names, fewest=True)
    together = list(_let_go(request, needs, mix, several))
    if not together:
        return WhyNone(words=_too_little(mix))
    return WhyNone(
        words=_words(_clash(len(together)), together),
        together=tuple(together),
    )


def _clash(limits: int) -> str:
    if limits == 1:
        return "one limit is in the way; let go it would do"
    return f"these {limits} limits clash; let go together they would do"


def _too_little(mix: Mix) -> str:
    """Not even the least share of what is wanted can be had, or nobody found it in time."""
    share = float((mix.free_kg / mix.needed_kg).sum())
    lots = len(mix.free_kg)
    told = f"the {lots} {'lot' if lots == 1 else 'lots'} that come into question"
    if share < LEAST_SHARE:
        return f"{told} hold {mix.free_kg.sum():g} kg together, which is under a tenth of what is wanted"
    return f"no set of limits was found in the time there was that, let go, lets a tenth of it be served by {told}"


def _can_be_let_go(request: Request, mix: Mix) -> Iterator[str]:
    for name in mix.names:
        if name == LOTS and mix.lots_max >= len(mix.free_kg):
            continue
        if name == PARCEL and mix.parcel_kg <= GRAM:
            continue
        if name == DISTANCE and not (mix.beyond_km > 0).any():
            continue
        yield name


def _let_go(request: Request, needs: Needs, mix: Mix, mixed: Mixed) -> Iterator[LetGo]:
    if mixed.mass_kg is None or not (mixed.mass_kg > 0).any():
        return
    for name, found in breaks(mix, mixed.mass_kg).items():
        shown, wanted, would_do = name, 0.0, found
        if name == NEED:
            shown, wanted = _need_of(request, needs)
            would_do = _down(wanted * found, 3)
        elif name == DISTANCE:
            wanted = float(request.within_km or 0)
            would_do = _up(wanted + found, 0)
        elif name in (LOTS, PARCEL):
            wanted = float(mix.lots_max) if name == LOTS else mix.parcel_kg
        else:
            limit = next(limit for limit in mix.limits if limit.name == name)
            wanted = limit.wanted
            would_do = _up(found * (1 + ROOM), 3) if limit.is_upper else _down(found * (1 - ROOM), 3)
        unit = UNITS[shown]
        words = f"{shown} {would_do:g} {unit}".rstrip() + f" instead of {wanted:g}"
        yield LetGo(limit=shown, wanted=wanted, would_do=would_do, unit=unit, words=words)


def _need_of(request: Request, needs: Needs) -> tuple[str, float]:
    """What is wanted of the deliveries that have not passed."""
    due = [d for d in request.deliveries if d.needed_on >= needs.first_on] or list(request.deliveries)
    wanted = {"mass_kg": needs.by_mass_kg, "alpha_kg": sum(d.alpha_kg_needed or 0.0 for d in due)}
    given = [name for name, value in wanted.items() if value > 0]
    return (given[0], wanted[given[0]]) if len(given) == 1 else ("deliveries", 1.0)


def _up(value: float, digits: int) -> float:
    return math.ceil(round(value * 10.0**digits, 6)) / 10.0**digits


def _down(value: float, digits: int) -> float:
    return math.floor(round(value * 10.0**digits, 6)) / 10.0**digits


def _words(lead: str, let_go: list[LetGo]) -> str:
    return f"no lots together meet the request; {lead}: {'; '.join(one.words for one in let_go)}"


def _no_lots(combined: Combined) -> str:
    """Which limits on single lots keep all of them out."""
    ranking = combined.ranking
    if combined.left_out:
        return f"no lot comes into question: {'; '.join(combined.left_out)}"
    failing = [(int((~limit.holds).sum()), limit.name) for limit in ranking.limits]
    told = [
        f"{count} {'lot fails' if count == 1 else 'lots fail'} {name}"
        for count, name in sorted(failing, reverse=True)
        if count
    ][:3]
    if len(ranking.lots) == 0 or not told:
        return "no listed lot with anything free comes into question"
    return f"no lot comes into question: of {len(ranking.lots)}, {'; '.join(told)}"
