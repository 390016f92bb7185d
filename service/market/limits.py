"""A request's limits, judged over many lots at once; a limit holds by the point estimate."""

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass

from service.market.candidates import Floats, LotColumns, number
from service.market.needs import Needs
from service.market.requests import Request
from service.market.scoring import cost_per_kg_alpha
from service.market.search import FINDS
from service.science.arrays import Flags, np
from service.science.storage_index import index_from_resin_loss, log_resin_left_limit

# Logarithms are compared, as in the search; the last digit of one decides nothing.
LAST_DIGIT = 1e-9

Value = float | str | list[str] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit: what is wanted, which lots keep it, how far the others are off, and what was found."""

    name: str
    wanted: Callable[[int], Value]
    holds: Flags
    # How far a lot is off, as a share of what was wanted; infinite where nothing was measured.
    off: Floats
    found: Callable[[int], Value]
    change: Callable[[int], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """A limit that a lot does not keep; found None was never measured."""

    limit: str
    wanted: Value
    found: Value
    change: str


def limits_of(
    request: Request, lots: LotColumns, needs: Needs, *, cultivar_keys: tuple[str, ...]
) -> list[Limit]:
    """Every limit that the request sets, and those that a lot's own terms set."""
    return [
        *_words(request, lots, cultivar_keys),
        *_acids(request, lots, needs),
        *_measured(request, lots),
        *_place(request, lots),
        *_price(request, lots, needs),
        *_mass(request, lots, needs),
    ]


def failures_of(limits: Sequence[Limit], place: int) -> tuple[Failure, ...]:
    """The limits that one lot does not keep."""
    return tuple(
        Failure(
            limit=limit.name,
            wanted=limit.wanted(place),
            found=limit.found(place),
            change=limit.change(place),
        )
        for limit in limits
        if not limit.holds[place]
    )


def _words(request: Request, lots: LotColumns, cultivar_keys: tuple[str, ...]) -> Iterator[Limit]:
    if request.role_strict:
        yield _among("role", request.role, lots.role, FINDS[request.role], "role_strict false")
    if request.cultivars and not request.accept_others:
        yield _among(
            "cultivars", list(request.cultivars), lots.cultivar_key, cultivar_keys, "accept {}", lots.cultivar
        )
    if request.forms:
        yield _among("forms", list(request.forms), lots.form, request.forms, "add {} to forms")
    if request.packings:
        yield _among("packings", list(request.packings), lots.packing, request.packings, "add {} to packings")


def _among(
    name: str,
    wanted: Value,
    values: Sequence[str | None],
    allowed: Collection[str],
    change: str,
    shown: Sequence[str | None] | None = None,
) -> Limit:
    words = values if shown is None else shown
    holds = np.fromiter((value in allowed for value in values), dtype=np.bool_, count=len(values))
    return Limit(
        name=name,
        wanted=lambda place: wanted,
        holds=holds,
        off=np.where(holds, 0.0, 1.0),
        found=lambda place: words[place],
        change=lambda place: change.format(words[place]) if words[place] else "the grower's own word on it",
    )


def _bound(
    name: str,
    wanted: float,
    values: Floats,
    holds: Flags,
    *,
    change: str | None = None,
    unknown: str = "a laboratory figure",
    decimals: int = 3,
) -> Limit:
    """A limit on a number, from below if its name ends in `_min`, else from above."""
    known = ~np.isnan(values)
    scale = abs(wanted) or 1.0
    at_least = name.endswith("_min")

    def words(place: int) -> str:
        if not known[place]:
            return unknown
        nearest = (math.floor if at_least else math.ceil)(round(float(values[place]) * 100, 6)) / 100
        return change if change is not None else f"{name} {nearest:g}"

    return Limit(
        name=name,
        wanted=lambda place: wanted,
        holds=holds & known,
        off=np.where(holds & known, 0.0, np.where(known, np.abs(values - wanted) / scale, np.inf)),
        found=lambda place: None if (one := number(values[place])) is None else round(one, decimals),
        change=words,
    )


def _acids(request: Request, lots: LotColumns, needs: Needs) -> Iterator[Limit]:
    # Alpha falls and the index rises with time: the least alpha is judged on the last day, the most on the first.
    if request.alpha_percent_min is not None:
        log = lots.log_alpha_on(needs.last_on)
        holds = log >= _log(request.alpha_percent_min) - LAST_DIGIT
        yield _bound("alpha_percent_min", request.alpha_percent_min, np.exp(log), holds)
    if request.alpha_percent_max is not None:
        log = lots.log_alpha_on(needs.first_on)
        holds = log <= _log(request.alpha_percent_max) + LAST_DIGIT
        yield _bound("alpha_percent_max", request.alpha_percent_max, np.exp(log), holds)
    if request.hop_storage_index_max is not None:
        log = lots.log_resin_on(needs.last_on)
        holds = log >= log_resin_left_limit(hop_storage_index_max=request.hop_storage_index_max) - LAST_DIGIT
        yield _bound("hop_storage_index_max", request.hop_storage_index_max, _index(log, holds), holds)


def _log(value: float) -> float:
    return math.log(value) if value > 0 else -math.inf


def _index(log_resin: Floats, holds: Flags) -> Floats:
    # Only of those that fail is the index told; to those that hold stands anything that was measured.
    values = np.where(np.isnan(log_resin), np.nan, 0.0)
    for place in np.flatnonzero(~holds & ~np.isnan(log_resin)).tolist():
        values[place] = index_from_resin_loss(resin_loss_percent=-100 * math.expm1(log_resin[place]))
    return values


def _measured(request: Request, lots: LotColumns) -> Iterator[Limit]:
    if request.moisture_percent_max is not None:
        values = lots.moisture_percent
        yield _bound(
            "moisture_percent_max",
            request.moisture_percent_max,
            values,
            values <= request.moisture_percent_max,
        )
    if request.oil_ml_per_100g_min is not None:
        values = lots.oil_ml_per_100g
        yield _bound(
            "oil_ml_per_100g_min", request.oil_ml_per_100g_min, values, values >= request.oil_ml_per_100g_min
        )


def _place(request: Request, lots: LotColumns) -> Iterator[Limit]:
    if request.within_km is not None:
        holds = lots.distance_km <= request.within_km
        yield _bound("within_km", request.within_km, lots.distance_km, holds, decimals=0)


def _price(request: Request, lots: LotColumns, needs: Needs) -> Iterator[Limit]:
    limits = (request.price_per_kg_max, request.price_per_kg_alpha_max)
    if all(limit is None for limit in limits):
        return
    agreed = np.isnan(lots.price_per_kg)
    same = np.fromiter((c == request.currency for c in lots.currency), dtype=np.bool_, count=len(lots))
    yield Limit(
        name="currency",
        wanted=lambda place: request.currency,
        holds=agreed | same,
        off=np.where(agreed | same, 0.0, 1.0),
        found=lambda place: lots.currency[place],
        change=lambda place: f"a price in {request.currency}, or one by agreement",
    )
    if request.price_per_kg_max is not None:
        wanted = float(request.price_per_kg_max)
        values = np.where(agreed | ~same, 0.0, lots.price_per_kg)
        yield _bound("price_per_kg_max", wanted, values, values <= wanted, decimals=4)
    if request.price_per_kg_alpha_max is not None:
        wanted = float(request.price_per_kg_alpha_max)
        values = np.where(agreed | ~same, 0.0, cost_per_kg_alpha(lots, needs))
        yield _bound("price_per_kg_alpha_max", wanted, values, values <= wanted, decimals=2)


def _mass(request: Request, lots: LotColumns, needs: Needs) -> Iterator[Limit]:
    if request.wants_alpha:
        yield Limit(
            name="alpha_kg",
            wanted=lambda place: round(request.alpha_kg, 3),
            holds=needs.is_known,
            off=np.where(needs.is_known, 0.0, np.inf),
            found=lambda place: None,
            change=lambda place: "a laboratory figure of alpha",
        )
    known = needs.is_known
    least = np.where(known, needs.needed_kg, 0.0)
    if not needs.must_give_all:
        least = np.fmin(least, float(request.parcel_kg_min or 0))
    enough = (lots.free_kg > 0) & (lots.free_kg >= least)
    yield _mass_limit("free_kg", least, lots.free_kg, enough, "a need of {:g} kg or less")
    parcel = np.where(known, needs.parcel_kg, lots.free_kg)
    smallest = np.where(np.isnan(lots.order_kg_min), 0.0, lots.order_kg_min)
    yield _mass_limit(
        "order_kg_min",
        parcel,
        smallest,
        (parcel >= np.fmin(smallest, lots.free_kg)) | ~enough | (parcel <= 0),
        "an order of {:g} kg or more",
    )
    yield _package_limit(request, lots, needs, enough)


def _mass_limit(name: str, wanted: Floats, found: Floats, holds: Flags, change: str) -> Limit:
    return Limit(
        name=name,
        wanted=lambda place: round(float(wanted[place]), 3),
        holds=holds,
        off=np.where(holds, 0.0, np.abs(found - wanted) / np.where(wanted > 0, wanted, 1.0)),
        found=lambda place: round(float(found[place]), 3),
        change=lambda place: change.format(found[place]),
    )


def _package_limit(request: Request, lots: LotColumns, needs: Needs, enough: Flags) -> Limit:
    holds = np.ones(len(lots), dtype=np.bool_)
    above = np.zeros(len(lots))
    for place, near in needs.nearest.items():
        below = float(near.below_kg or 0)
        short = below < needs.needed_kg[place] if needs.must_give_all else below <= 0
        small = below < min(float(request.parcel_kg_min or 0), needs.needed_kg[place])
        holds[place] = not (enough[place] and (short or small))
        above[place] = float(near.above_kg or near.below_kg or 0)
    wanted = np.where(needs.is_known, np.fmin(needs.needed_kg, lots.free_kg), 0.0)
    return _mass_limit("whole_packages", wanted, above, holds, "{:g} kg in whole packages")
