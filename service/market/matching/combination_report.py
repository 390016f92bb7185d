"""A combination told: each parcel, the mix as a whole, its limits, and the proof."""

from collections.abc import Mapping
from decimal import Decimal

import numpy as np

from service.market.matching.combination_model import MixLimit
from service.market.matching.combinations import (
    Combination,
    CombinationAnswer,
    CombinationOrder,
    CombinationProof,
    CombinedFigures,
    CombinedParcel,
    MixedLimit,
    WhyNone,
)
from service.market.matching.combining import Combined, mixed_values, price_of
from service.market.matching.matching import Ranking
from service.market.matching.needs import exact_kg
from service.market.matching.oil_similarity import wish_assumptions
from service.market.matching.requests import Request
from service.science.arrays import Numbers, Places
from service.science.uncertainty import Estimate

ASSUMPTIONS = (
    "limits on alpha, oil, moisture and Hop Storage Index are kept by the mix, averaged by the mass of the parcels,"
    " on the days needed and by the point estimate; for the index, a ratio of absorbances, that is an approximation"
    " (assumption, no source)",
    "each lot serves the same share of every delivery",
    "the whole of what is due from today on is combined, whatever is promised for it already",
    "weights and scales of the score are house figures (assumption, no source)",
)
Alphas = Mapping[str, tuple[Estimate | None, str | None]]


def codes_of(combined: Combined) -> list[str]:
    """The lots of the combination that was found."""
    lots = combined.ranking.lots
    return [lots.code[place] for place, _ in _taken(combined)]


def tell_combination(
    request: Request,
    order: CombinationOrder,
    combined: Combined,
    *,
    alphas: Alphas,
    why: WhyNone | None,
) -> CombinationAnswer:
    """The answer; `alphas` are the estimates for the last day needed, with their method."""
    found = combined.mixed is not None and combined.mixed.mass_kg is not None
    return CombinationAnswer(
        request_code=request.code,
        aim=order.aim,
        candidates=len(combined.places),
        combination=_combination(combined, alphas) if found else None,
        proof=_proof(order, combined) if found else None,
        why_none=why,
        assumptions=(*ASSUMPTIONS, *_of_the_wish(request)),
        cautions=(*combined.left_out, *_cautions(combined, alphas)),
    )


def _of_the_wish(request: Request) -> tuple[str, ...]:
    like = request.oil_like
    return () if like is None else wish_assumptions(published=like.lot_code is None)


def _taken(combined: Combined) -> list[tuple[int, float]]:
    if combined.mixed is None or combined.mixed.mass_kg is None:
        return []
    masses = combined.mixed.mass_kg
    taken = [(int(combined.places[at]), float(masses[at])) for at in np.flatnonzero(masses > 0).tolist()]
    return sorted(taken, key=lambda one: (-one[1], combined.ranking.lots.code[one[0]]))


def _combination(combined: Combined, alphas: Alphas) -> Combination:
    parcels = tuple(_parcel(combined.ranking, place, mass, alphas) for place, mass in _taken(combined))
    places = np.array([place for place, _ in _taken(combined)], dtype=np.int64)
    masses = np.array([mass for _, mass in _taken(combined)])
    mix, mixed = combined.mix, combined.mixed
    limits = []
    if mix is not None and mixed is not None and mixed.mass_kg is not None:
        limits = [
            MixedLimit(limit=one.name, wanted=one.wanted, found=_found(one, mixed.mass_kg))
            for one in mix.limits
        ]
    return Combination(
        parcels=parcels, figures=_figures(combined.ranking, parcels, places, masses), limits=tuple(limits)
    )


def _parcel(ranking: Ranking, place: int, mass: float, alphas: Alphas) -> CombinedParcel:
    lots = ranking.lots
    price = price_of(lots, place)
    alpha, method = alphas.get(lots.code[place], (None, None))
    mass_kg = exact_kg(mass + 1e-6)
    return CombinedParcel(
        lot_code=lots.code[place],
        grower_code=lots.grower_code[place],
        cultivar=lots.cultivar[place],
        form=lots.form[place],
        mass_kg=mass_kg,
        covers_percent=round(100 * mass / float(ranking.needs.needed_kg[place]), 2),
        score=float(ranking.scores.score[place]),
        alpha_percent_when_needed=alpha,
        alpha_method=method,
        distance_km=round(float(lots.distance_km[place])),
        price_per_kg=price,
        currency=None if price is None else lots.currency[place],
        amount=None if price is None else round(mass_kg * price, 2),
    )


def _found(limit: MixLimit, mass_kg: Numbers) -> float | None:
    """What a mix has; None where nothing of it counts, as when every price is by agreement."""
    return round(limit.found(mass_kg), 4) if float(limit.under @ mass_kg) > 0 else None


def _figures(
    ranking: Ranking, parcels: tuple[CombinedParcel, ...], places: Places, masses: Numbers
) -> CombinedFigures:
    values = mixed_values(ranking)
    total = float(masses.sum())

    def mean(name: str, digits: int) -> float | None:
        own = values[name][places]
        return None if np.isnan(own).any() else round(float(own @ masses) / total, digits)

    amounts: dict[str, Decimal] = {}
    for parcel in parcels:
        if parcel.amount is not None:
            amounts[str(parcel.currency)] = amounts.get(str(parcel.currency), Decimal(0)) + parcel.amount
    own_alpha = values["alpha_percent_min"][places]
    alpha_kg = None if np.isnan(own_alpha).any() else float(own_alpha @ masses) / 100
    agreed = sum((p.mass_kg for p in parcels if p.price_per_kg is None), Decimal(0))
    one_price = len(amounts) == 1 and agreed == 0 and alpha_kg
    covers = np.array([parcel.covers_percent for parcel in parcels])
    scores = np.array([parcel.score for parcel in parcels])
    return CombinedFigures(
        mass_kg=sum((p.mass_kg for p in parcels), Decimal(0)),
        lots=len(parcels),
        alpha_kg=None if alpha_kg is None else round(alpha_kg, 4),
        alpha_percent_when_needed=mean("alpha_percent_min", 3),
        hop_storage_index_when_needed=mean("hop_storage_index_max", 4),
        oil_ml_per_100g=mean("oil_ml_per_100g_min", 3),
        moisture_percent=mean("moisture_percent_max", 2),
        score=round(float(scores @ covers / covers.sum()), 4),
        distance_km_mean=round(float(ranking.lots.distance_km[places] @ masses) / total, 1),
        amounts=amounts,
        by_agreement_kg=agreed,
        per_kg_alpha=round(float(next(iter(amounts.values()))) / alpha_kg, 2)
        if one_price and alpha_kg
        else None,
    )


def _proof(order: CombinationOrder, combined: Combined) -> CombinationProof | None:
    mix, mixed = combined.mix, combined.mixed
    if mix is None or mixed is None or mixed.mass_kg is None:
        return None
    value, bound = float(mix.cost @ mixed.mass_kg), max(mixed.bound, 0.0)
    bound = min(bound, value)
    gap = (value - bound) / value if value > 0 else 0.0
    counted = f"the cost in {combined.currency}"
    if order.aim == "best_scored":
        counted = "what the score of each lot lacks to 1, by the share of the need it covers"
    return CombinationProof(
        counted=counted,
        value=round(value, 4),
        bound=round(bound, 4),
        gap_percent=round(100 * gap, 4),
        is_optimal=mixed.is_proven,
    )


def _cautions(combined: Combined, alphas: Alphas) -> list[str]:
    said = []
    methods = sorted({method for _, method in alphas.values() if method})
    if len(methods) > 1:
        said.append(f"alpha was measured by {', '.join(methods)}, which are not one scale")
    lots = combined.ranking.lots
    agreed = [lots.code[place] for place, _ in _taken(combined) if np.isnan(lots.price_per_kg[place])]
    if agreed:
        said.append(f"the price of {', '.join(agreed)} is by agreement; its cost is not in the amount")
    return said
