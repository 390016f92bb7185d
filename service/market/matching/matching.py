"""Which lots meet a request, best first, and which nearly do; with the reasons in words."""

from bisect import bisect_right
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

import numpy as np

from service.facts import Fact
from service.market.goods.lab_reports import LabReport, standing_figures
from service.market.goods.stock import words_of
from service.market.matching.alpha_terms import alpha_terms
from service.market.matching.brewery_storage import kept_as_wished
from service.market.matching.candidates import Candidate, LotColumns, number
from service.market.matching.chances import chance_all_limits_met
from service.market.matching.evidence import evidence_words
from service.market.matching.limit_facts import Failure, Limit, failures_of
from service.market.matching.limits import limits_of
from service.market.matching.needs import Needs, exact_kg, needs_of
from service.market.matching.requests import Request
from service.market.matching.scoring import UNKNOWN_COUNTS, Scores, cost_per_kg_alpha, score_lots
from service.market.matching.search import SearchFigures
from service.market.matching.search_figures import alpha_on, index_on
from service.science.arrays import Flags
from service.science.uncertainty import Estimate

NEAR_MISSES_MAX = 20
FAILS_MAX = 2


class Cost(Fact, frozen=True, kw_only=True):
    """What a parcel costs, and what a kilogram of alpha acids costs in it on the day needed."""

    amount: Decimal
    currency: str
    per_kg_alpha: float | None


class Match(Fact, frozen=True, kw_only=True):
    """A lot that keeps every limit, with its score and the reasons."""

    lot_code: str
    grower_code: str
    cultivar: str
    form: str
    score: float
    parts: dict[str, float | None]
    reasons: tuple[str, ...]
    alpha_percent_when_needed: Estimate | None
    hop_storage_index_when_needed: Estimate | None
    alpha_method: str | None
    chance_all_limits_met: float
    distance_km: int
    free_kg: Decimal
    parcel_kg: Decimal
    cost: Cost | None


class NearMiss(Fact, frozen=True, kw_only=True):
    """A lot that fails one or two limits."""

    lot_code: str
    cultivar: str
    fails: tuple[Failure, ...]
    off: float


class Ranking(Fact, frozen=True, kw_only=True):
    """Every lot that keeps all limits, best first; what a page of matches is described from."""

    request: Request
    lots: LotColumns
    needs: Needs
    scores: Scores
    order: tuple[int, ...]
    limits: tuple[Limit, ...]

    def position(self, place: int) -> tuple[float, str]:
        """Where a lot stands in the order: by score, then by code."""
        return float(self.scores.score[place]), self.lots.code[place]


def rank_lots(request: Request, lots: LotColumns, *, cultivar_keys: tuple[str, ...], today: date) -> Ranking:
    """Keep the lots that meet every limit, best score first."""
    lots = kept_as_wished(request, lots, today=today)
    needs = needs_of(request, lots, today=today)
    limits = limits_of(request, lots, needs, cultivar_keys=cultivar_keys)
    meets = _all_hold(limits, len(lots))
    scores = score_lots(request, lots, needs, cultivar_keys=cultivar_keys, among=meets)
    kept = np.flatnonzero(meets)
    codes = np.array([lots.code[place] for place in kept.tolist()], dtype=np.str_)
    order = kept[np.lexsort((codes, -scores.score[kept]))].tolist()
    return Ranking(
        request=request, lots=lots, needs=needs, scores=scores, order=tuple(order), limits=tuple(limits)
    )


def near_misses_of(
    request: Request, lots: LotColumns, *, cultivar_keys: tuple[str, ...], today: date
) -> list[NearMiss]:
    """The lots that fail one or two limits, the fewest and the narrowest failures first."""
    lots = kept_as_wished(request, lots, today=today)
    needs = needs_of(request, lots, today=today)
    return _near_misses(lots, limits_of(request, lots, needs, cultivar_keys=cultivar_keys))


def near_misses_in(ranking: Ranking) -> list[NearMiss]:
    """The near misses among lots that were ranked."""
    return _near_misses(ranking.lots, ranking.limits)


def _near_misses(lots: LotColumns, limits: Sequence[Limit]) -> list[NearMiss]:
    count = sum((~limit.holds for limit in limits), np.zeros(len(lots), dtype=np.int64))
    off = sum((limit.off for limit in limits), np.zeros(len(lots)))
    close = np.flatnonzero((count >= 1) & (count <= FAILS_MAX)).tolist()
    nearest = sorted(close, key=lambda place: (count[place], off[place], lots.code[place]))
    return [
        NearMiss(
            lot_code=lots.code[place],
            cultivar=lots.cultivar[place],
            fails=failures_of(limits, place),
            off=float(off[place]),
        )
        for place in nearest[:NEAR_MISSES_MAX]
    ]


def join_near_misses(*found: Sequence[NearMiss]) -> list[NearMiss]:
    """Put near misses of several readings together, nearest first, each lot once."""
    each = {miss.lot_code: miss for misses in found for miss in misses}
    ordered = sorted(each.values(), key=lambda miss: (len(miss.fails), miss.off, miss.lot_code))
    return ordered[:NEAR_MISSES_MAX]


def page_of_places(ranking: Ranking, *, after: tuple[float, str] | None, limit: int) -> list[int]:
    """The next lots in the order, after a position."""
    if after is None:
        return list(ranking.order[:limit])
    begin = (-after[0], after[1])
    codes, scores = ranking.lots.code, ranking.scores.score.tolist()
    first = bisect_right(ranking.order, begin, key=lambda place: (-scores[place], codes[place]))
    return list(ranking.order[first : first + limit])


def describe_match(
    ranking: Ranking,
    place: int,
    *,
    lot: Candidate,
    reports: Sequence[LabReport],
    when_needed: tuple[SearchFigures, SearchFigures] | None = None,
) -> Match:
    """All that is said of one match; `when_needed` are its figures for the first and the last day needed.

    By default the lot stays where it is.
    """
    lots, needs, scores = ranking.lots, ranking.needs, ranking.scores
    first, figures = when_needed or (lot.figures, lot.figures)
    parts = {name: _rounded(values[place]) for name, values in scores.parts.items()}
    return Match(
        lot_code=lots.code[place],
        grower_code=lots.grower_code[place],
        cultivar=lot.cultivar,
        form=lot.form,
        score=float(scores.score[place]),
        parts=parts,
        reasons=(*_part_words(ranking, place, parts, lot), *_terms(ranking, place, lot)),
        alpha_percent_when_needed=alpha_on(figures, needs.last_on),
        hop_storage_index_when_needed=index_on(figures, needs.last_on),
        alpha_method=figures.alpha_method,
        chance_all_limits_met=chance_all_limits_met(
            ranking.request,
            first,
            measured=standing_figures(reports),
            form=lot.form,
            first_on=needs.first_on,
            last_on=needs.last_on,
            terms=alpha_terms(ranking.request, lots, needs, place),
            last_figures=figures,
        ),
        distance_km=_whole_km(lots, place),
        free_kg=exact_kg(lots.free_kg[place]),
        parcel_kg=exact_kg(needs.parcel_kg[place]),
        cost=cost_of(ranking, place),
    )


def cost_of(ranking: Ranking, place: int) -> Cost | None:
    """What the parcel costs; None where the price is by agreement."""
    price, currency = number(ranking.lots.price_per_kg[place]), ranking.lots.currency[place]
    if price is None or currency is None:
        return None
    per_kg_alpha = number(cost_per_kg_alpha(ranking.lots, ranking.needs)[place])
    amount = exact_kg(ranking.needs.parcel_kg[place]) * Decimal(repr(price))
    return Cost(
        amount=round(amount, 2),
        currency=currency,
        per_kg_alpha=None if per_kg_alpha is None else round(per_kg_alpha, 2),
    )


def _all_hold(limits: Sequence[Limit], count: int) -> Flags:
    meets = np.ones(count, dtype=np.bool_)
    for limit in limits:
        meets &= limit.holds
    return meets


def _whole_km(lots: LotColumns, place: int) -> int:
    return round(float(lots.distance_km[place]))


def _rounded(value: float) -> float | None:
    known = number(value)
    return None if known is None else round(known, 4)


def _part_words(ranking: Ranking, place: int, parts: dict[str, float | None], lot: Candidate) -> list[str]:
    return [
        f"{name} {'unknown' if parts[name] is None else format(parts[name], '.2f')}"
        f" (weight {weight:.2f}): {_words(ranking, place, name, lot)}"
        for name, weight in ranking.scores.weights.items()
    ]


def _words(ranking: Ranking, place: int, name: str, lot: Candidate) -> str:
    lots, needs = ranking.lots, ranking.needs
    if name == "evidence":
        return evidence_words(lot.evidence)
    if name == "distance":
        return f"{_whole_km(lots, place)} km in a straight line over the ground"
    if name == "cultivar":
        wanted = ranking.scores.parts[name][place] > 0
        return f"{lot.cultivar} is {'wanted by name' if wanted else 'another cultivar, accepted'}"
    if name == "role":
        return f"a cultivar used for {lot.role}, {ranking.request.role} is wanted"
    if name == "profile" and lots.oil_alike is not None:
        said, alike = lots.oil_alike.words(place), ranking.scores.parts[name][place]
        return f"{said}; counts as {UNKNOWN_COUNTS:g}" if np.isnan(alike) else said
    if np.isnan(ranking.scores.parts[name][place]):
        return f"{_UNKNOWN[name]}; counts as {UNKNOWN_COUNTS:g}"
    if name == "freshness":
        left = 100 * ranking.scores.parts[name][place]
        return f"an estimated {left:.0f} % of the fresh alpha and beta acids are left on {needs.last_on}"
    if name == "oil":
        return f"{lots.oil_ml_per_100g[place]:.2f} mL of oil in 100 g as analysed"
    unit = "kg of alpha acids" if ranking.scores.by_alpha else "kg"
    return f"{ranking.scores.unit_cost[place]:.2f} {lots.currency[place]} for a {unit}, 1 is the cheapest that fits"


_UNKNOWN = {
    "freshness": "no Hop Storage Index was measured",
    "oil": "oil was never measured",
    "price": "no price to compare",
    "profile": "oil profiles are not compared here",
}


def _terms(ranking: Ranking, place: int, lot: Candidate) -> list[str]:
    lots, needs = ranking.lots, ranking.needs
    said = []
    if np.isnan(lots.price_per_kg[place]):
        said.append("price by agreement: it neither passes nor fails a price limit")
    elif ranking.request.currency and lots.currency[place] != ranking.request.currency:
        said.append(f"priced in {lots.currency[place]}; prices are never compared across currencies")
    if lot.sold_in == "whole_packages" and lot.packages:
        said.append(f"sold in whole packages: {words_of(lot.packages)}")
    if lot.order_kg_min is not None:
        said.append(f"the grower's smallest order is {lot.order_kg_min:g} kg")
    if lot.readiness == "announced":
        said.append("announced before picking: the mass is expected, not weighed")
    elif lot.readiness == "awaiting_analysis":
        said.append("awaiting analysis")
    if needs.is_known[place] and needs.parcel_kg[place] < needs.needed_kg[place]:
        said.append(f"gives {needs.parcel_kg[place]:g} kg of the {needs.needed_kg[place]:g} kg needed")
    return said
