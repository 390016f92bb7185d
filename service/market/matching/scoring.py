"""The score of a lot for a request: named parts, each a function from 0 to 1, and their weights.

The score is the mean of the parts by their weights. A part that nobody can tell counts as a half in it and
is shown as null. All scales are house figures; assumption, no source. The weights stand in `weights`.

Distances count in whole kilometres, as they are shown; limits are judged exactly.
"""

from collections.abc import Mapping

import numpy as np

from service.facts import Fact
from service.market.matching.candidates import Floats, LotColumns
from service.market.matching.evidence import evidence_scores
from service.market.matching.needs import Needs
from service.market.matching.requests import Request
from service.market.matching.search import FINDS
from service.market.matching.weights import chosen_weights
from service.science.arrays import Flags

UNKNOWN_COUNTS = 0.5
HALF_AT_KM = 200.0
# A lot with next to no alpha sells it at no sensible price; the number stays a number.
MOST_PER_KG_ALPHA = 1e9
HALF_AT_OIL_ML_PER_100G = 1.0


class Scores(Fact, frozen=True, kw_only=True):
    """The score of each lot, the parts behind it (NaN where nobody can tell), and the weights used."""

    score: Floats
    parts: Mapping[str, Floats]
    weights: Mapping[str, float]
    unit_cost: Floats
    by_alpha: bool


def score_lots(
    request: Request,
    lots: LotColumns,
    needs: Needs,
    *,
    cultivar_keys: tuple[str, ...],
    among: Flags,
) -> Scores:
    """Score each lot; prices are compared with the cheapest of the lots `among` which one chooses."""
    weights = weights_of(request)
    by_alpha = request.role != "aroma"
    cost = cost_per_kg_alpha(lots, needs) if by_alpha else lots.price_per_kg
    every = {
        "freshness": freshness_part(lots, needs),
        "oil": oil_part(lots.oil_ml_per_100g),
        "price": price_part(request, lots, cost, among=among),
        "distance": distance_part(lots.distance_km),
        "evidence": evidence_part(lots),
        "cultivar": _claim([key in cultivar_keys for key in lots.cultivar_key]),
        "role": _claim([role in FINDS[request.role] for role in lots.role]),
        "profile": profile_part(lots),
    }
    parts = {name: every[name] for name in weights}
    score = np.zeros(len(lots))
    for name, weight in weights.items():
        score += weight * np.where(np.isnan(parts[name]), UNKNOWN_COUNTS, parts[name])
    return Scores(score=np.round(score, 4), parts=parts, weights=weights, unit_cost=cost, by_alpha=by_alpha)


def weights_of(request: Request) -> dict[str, float]:
    """The weights of the parts that count, heaviest first, 1 in all.

    A request whose own weights leave none may no longer exist; one that was kept from before counts by the house's.
    """
    named = {"names_cultivars": bool(request.cultivars), "names_oil": request.oil_like is not None}
    chosen = chosen_weights(request.role, request.weights, **named)
    if not any(chosen.values()):
        chosen = chosen_weights(request.role, {}, **named)
    total = sum(chosen.values())
    heaviest = sorted(((name, weight / total) for name, weight in chosen.items()), key=lambda pair: -pair[1])
    return {name: weight for name, weight in heaviest if weight > 0}


def freshness_part(lots: LotColumns, needs: Needs) -> Floats:
    """The share of the fresh alpha + beta estimated to be left on the last day needed; 1 is as picked."""
    left: Floats = np.exp(np.minimum(lots.log_resin_on(needs.last_on), 0.0))
    return left


def oil_part(oil_ml_per_100g: Floats) -> Floats:
    """Oil over (oil + 1 mL per 100 g): a half at 1 mL, nearing 1 for the richest.

    >>> oil_part(np.array([1.0, 3.0]))
    array([0.5 , 0.75])

    """
    return oil_ml_per_100g / (oil_ml_per_100g + HALF_AT_OIL_ML_PER_100G)


def distance_part(distance_km: Floats) -> Floats:
    """200 over (200 + kilometres): 1 next door, a half at 200 km.

    Whole kilometres count, so that no score tells a yard's place closer than that.

    >>> distance_part(np.array([0.4, 200.0, 600.0]))
    array([1.  , 0.5 , 0.25])

    """
    return HALF_AT_KM / (HALF_AT_KM + np.round(distance_km))


def evidence_part(lots: LotColumns) -> Floats:
    """How well the alpha is backed: method, who drew the sample, packages cored, reports, their consistency."""
    return evidence_scores(
        reports=lots.alpha_reports,
        methods=lots.alpha_method,
        drawers=lots.alpha_drawn_by,
        packages_cored=lots.alpha_packages_cored,
        alpha_spread=lots.alpha_spread,
    )


def profile_part(lots: LotColumns) -> Floats:
    """1/(1 + d), d the distance of the lot's oil from the wished profile over the parts known of both; 1 is alike."""
    return np.full(len(lots), np.nan) if lots.oil_alike is None else lots.oil_alike.similarity


def price_part(request: Request, lots: LotColumns, cost: Floats, *, among: Flags) -> Floats:
    """The cheapest of the lots among which one chooses, over this lot; 1 is the cheapest, a half costs twice.

    Only within one currency: the request's, or if it names none, the lot's own.
    """
    part = np.full(len(lots), np.nan)
    currencies = np.array([c or "" for c in lots.currency])
    named = {request.currency} if request.currency else set(currencies.tolist()) - {""}
    for currency in named:
        here = (currencies == currency) & ~np.isnan(cost)
        if not here.any():
            continue
        field = here & among if (here & among).any() else here
        cheapest = cost[field].min()
        with np.errstate(divide="ignore", invalid="ignore"):
            part[here] = np.where(cost[here] > 0, np.minimum(1.0, cheapest / cost[here]), 1.0)
    return part


def cost_per_kg_alpha(lots: LotColumns, needs: Needs) -> Floats:
    """The price of a kilogram of alpha acids on the last day needed."""
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        cost = lots.price_per_kg * 100 / np.exp(lots.log_alpha_on(needs.last_on))
    return np.minimum(cost, MOST_PER_KG_ALPHA)


def _claim(values: list[bool]) -> Floats:
    return np.array(values, dtype=np.float64)
