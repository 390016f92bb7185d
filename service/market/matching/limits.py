"""A request's limits, judged over many lots at once; a limit holds by the point estimate."""

import math
from collections.abc import Collection, Iterator, Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR

import numpy as np

from service.market.goods.provenance import is_held, known_origin
from service.market.matching.candidates import Floats, LotColumns, number
from service.market.matching.limit_facts import Limit, Value, written
from service.market.matching.mass_limits import mass_limits
from service.market.matching.needs import Needs
from service.market.matching.requests import Request
from service.market.matching.scoring import cost_per_kg_alpha
from service.market.matching.search import FINDS
from service.science.arrays import Flags
from service.science.storage_index import index_from_resin_loss, log_resin_left_limit

# Logarithms are compared, as in the search; the last digit of one decides nothing.
LAST_DIGIT = 1e-9
# What a logarithm and back again may add to a figure.
ROUNDED = 1e-12


def limits_of(
    request: Request, lots: LotColumns, needs: Needs, *, cultivar_keys: tuple[str, ...]
) -> list[Limit]:
    """Every limit that the request sets, and those that a lot's own terms set."""
    return [
        *_words(request, lots, cultivar_keys),
        *_certifications(request, lots, needs),
        *_acids(request, lots, needs),
        *_measured(request, lots),
        *_place(request, lots),
        *_price(request, lots, needs),
        *mass_limits(request, lots, needs),
    ]


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
    if request.origins:
        yield _origins(request, lots)


def _origins(request: Request, lots: LotColumns) -> Limit:
    told = [
        known_origin(country, subdivision, wanted=request.origins)
        for country, subdivision in zip(lots.origin_country, lots.origin_subdivision, strict=True)
    ]
    allowed = {place for place in told if place and {place, place[:2]} & set(request.origins)}
    return _among("origins", list(request.origins), told, allowed, "add {} to origins")


def _certifications(request: Request, lots: LotColumns, needs: Needs) -> Iterator[Limit]:
    if not request.certifications:
        return
    held = [
        [one for one in lots.certifications.get(place, ()) if not one.is_lapsed(needs.taken_on)]
        for place in range(len(lots))
    ]
    lacking = [[wanted for wanted in request.certifications if not is_held(wanted, own)] for own in held]
    yield Limit(
        name="certifications",
        wanted=lambda place: list(request.certifications),
        holds=np.fromiter((not lack for lack in lacking), dtype=np.bool_, count=len(lots)),
        off=np.array([len(lack) for lack in lacking], dtype=np.float64),
        found=lambda place: [one.scheme for one in held[place]],
        change=lambda place: f"leave {' and '.join(lacking[place])} out of certifications",
    )


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
    decimals: int = 3,
    slack: float = 0.0,
    step: str = "0.01",
) -> Limit:
    """A limit on a number, from below if its name ends in `_min`, else from above."""
    known = ~np.isnan(values)
    scale = abs(wanted) or 1.0
    at_least = name.endswith("_min")

    def words(place: int) -> str:
        if not known[place]:
            return "a laboratory figure"
        eased = float(values[place]) * (1 + slack if at_least else 1 - slack)
        return f"{name} {written(eased, ROUND_FLOOR if at_least else ROUND_CEILING, step)}"

    with np.errstate(over="ignore"):
        off = np.where(holds & known, 0.0, np.where(known, np.abs(values - wanted) / scale, np.inf))
    return Limit(
        name=name,
        wanted=lambda place: wanted,
        holds=holds & known,
        off=off,
        found=lambda place: None if (one := number(values[place])) is None else round(one, decimals),
        change=words,
    )


def _acids(request: Request, lots: LotColumns, needs: Needs) -> Iterator[Limit]:
    # Alpha falls and the index rises with time: the least alpha is judged on the last day, the most on the first.
    if request.alpha_percent_min is not None:
        log = lots.log_alpha_on(needs.last_on)
        holds = log >= _log(request.alpha_percent_min) - LAST_DIGIT
        yield _bound("alpha_percent_min", request.alpha_percent_min, np.exp(log), holds, slack=ROUNDED)
    if request.alpha_percent_max is not None:
        log = lots.log_alpha_on(needs.first_on)
        holds = log <= _log(request.alpha_percent_max) + LAST_DIGIT
        yield _bound("alpha_percent_max", request.alpha_percent_max, np.exp(log), holds, slack=ROUNDED)
    if request.hop_storage_index_max is not None:
        log = lots.log_resin_on(needs.last_on)
        holds = log >= log_resin_left_limit(hop_storage_index_max=request.hop_storage_index_max) - LAST_DIGIT
        index = _index(log, holds)
        yield _bound("hop_storage_index_max", request.hop_storage_index_max, index, holds, slack=ROUNDED)


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
        # Nobody is told a yard's place closer than to the kilometre.
        yield _bound("within_km", request.within_km, lots.distance_km, holds, decimals=0, step="1")


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
        holds = values <= wanted * (1 + LAST_DIGIT)
        yield _bound("price_per_kg_alpha_max", wanted, values, holds, decimals=2, slack=ROUNDED)
