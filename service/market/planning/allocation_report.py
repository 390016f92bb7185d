"""A plan in words and facts: who takes what from whom, what each request lacks, the proof, and first come beside it."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

import numpy as np

from service.market.matching.requests import FILLED_FROM_SHARE
from service.market.planning.allocation_model import Model
from service.market.planning.allocation_region import GoodsInRegion, NeedInRegion, Region
from service.market.planning.allocation_rules import Ruled
from service.market.planning.allocation_solving import Solution
from service.market.planning.allocations import (
    AllocationPlan,
    LotInPlan,
    Parcel,
    Proof,
    RequestInPlan,
    Tally,
)
from service.science.arrays import Numbers

ASSUMPTIONS = (
    "the value of a parcel is the lot's score for the request times the kilograms of need it covers; the weights and"
    " scales of the score are house figures (assumption, no source)",
    "a need of alpha acids counts as the mass it takes of the middle one of the lots that suit it; where none does, of"
    " the region's free lots whose alpha is known",
    "what is held, confirmed or delivered comes first: it is taken off the needs and is not free",
    "distances are great-circle distances, not roads",
)


def tell_plan(
    region: Region, model: Model, ruled: Ruled, *, rule: str, first_come_kg: Numbers
) -> AllocationPlan:
    """Tell a plan from every side."""
    parcels = _parcels(region, model, ruled.mass_kg)
    of_request: dict[str, list[Parcel]] = {}
    of_lot: dict[str, list[Parcel]] = {}
    for parcel in parcels:
        of_request.setdefault(parcel.request_code, []).append(parcel)
        of_lot.setdefault(parcel.lot_code, []).append(parcel)
    lacks = _lacks(region, model, ruled)
    return AllocationPlan(
        rule=rule,
        planned_on=region.read_on,
        requests=tuple(
            _request(need, of_request.get(need.request_code, []), lacks[place])
            for place, need in enumerate(region.needs)
        ),
        lots=tuple(_lots(region.goods, of_lot)),
        tally=_tally(region, model, ruled.mass_kg),
        first_come=_tally(region, model, first_come_kg),
        proofs=tuple(_proof(name, step) for name, step in ruled.steps),
        assumptions=ASSUMPTIONS,
        cautions=region.cautions,
    )


def exact(mass_kg: float) -> Decimal:
    """A mass of a plan, which is a whole number of grams but for the last digit.

    >>> exact(40.000000001)
    Decimal('40.000')

    """
    return Decimal(round(mass_kg * 1000)).scaleb(-3)


def _parcels(region: Region, model: Model, mass_kg: Numbers) -> list[Parcel]:
    """Each parcel; packages of several sizes of one lot for one request are one parcel."""
    joined: dict[tuple[int, str], Parcel] = {}
    for place in np.flatnonzero(mass_kg > 0).tolist():
        pair = region.pairs[int(model.origin[place])]
        need, goods = region.needs[pair.need], region.goods[pair.goods]
        mass = exact(mass_kg[place])
        before = joined.get((pair.need, goods.lot_code))
        joined[(pair.need, goods.lot_code)] = Parcel(
            request_code=need.request_code,
            brewery_code=need.brewery_code,
            lot_code=goods.lot_code,
            grower_code=goods.grower_code,
            cultivar=goods.cultivar,
            form=goods.form,
            mass_kg=mass + (before.mass_kg if before else 0),
            covers_kg=exact(mass_kg[place] * pair.covers) + (before.covers_kg if before else 0),
            score=pair.score,
            value=round(mass_kg[place] * pair.covers * pair.score, 6) + (before.value if before else 0.0),
            distance_km=pair.distance_km,
            price_per_kg=goods.price_per_kg,
            currency=goods.currency,
            wish_key=need.wish_key,
        )
    return sorted(joined.values(), key=lambda p: (p.request_code, -p.mass_kg, p.lot_code))


def _request(need: NeedInRegion, parcels: Sequence[Parcel], lacks: Sequence[str]) -> RequestInPlan:
    return RequestInPlan(
        request_code=need.request_code,
        brewery_code=need.brewery_code,
        brewery_name=need.brewery_name,
        firmness=need.firmness,
        needed_on=need.needed_on,
        wanted_kg=need.need_kg,
        by_alpha=need.by_alpha,
        served_kg=sum((p.covers_kg for p in parcels), Decimal(0)),
        parcels=tuple(parcels),
        lacks=tuple(lacks),
    )


def _lots(goods: Sequence[GoodsInRegion], of_lot: dict[str, list[Parcel]]) -> Iterator[LotInPlan]:
    free: dict[str, Decimal] = {}
    for one in goods:
        free[one.lot_code] = free.get(one.lot_code, Decimal(0)) + one.free_kg
    told = set()
    for one in sorted(goods, key=lambda g: g.lot_code):
        if one.lot_code not in told:
            told.add(one.lot_code)
            yield LotInPlan(
                lot_code=one.lot_code,
                grower_code=one.grower_code,
                grower_name=one.grower_name,
                cultivar=one.cultivar,
                form=one.form,
                free_kg=free[one.lot_code],
                parcels=tuple(of_lot.get(one.lot_code, ())),
            )


def _tally(region: Region, model: Model, mass_kg: Numbers) -> Tally:
    served = model.covered_kg(mass_kg)
    taken = mass_kg > 0
    km = np.array([p.distance_km for p in region.pairs], dtype=float)[model.origin]
    total = float(mass_kg.sum())
    return Tally(
        value=round(model.worth(mass_kg), 3),
        mass_kg=exact(total),
        requests_served=int((served > 0).sum()),
        requests_filled=int(((served > 0) & (served >= FILLED_FROM_SHARE * model.need_kg)).sum()),
        parcels=len(np.unique(model.parcel[taken])),
        distance_km_mean=round(float(km @ mass_kg) / total, 1) if total > 0 else None,
    )


def _proof(name: str, step: Solution) -> Proof:
    return Proof(
        of=name,
        value=round(step.worth, 3),
        bound=round(step.bound, 3),
        bound_name=step.bound_name,
        gap_percent=round(100 * step.gap, 4),
        is_optimal=step.is_optimal,
        method=step.method,
        rounds=step.rounds,
        seconds=round(step.seconds, 2),
    )


def _lacks(region: Region, model: Model, ruled: Ruled) -> list[tuple[str, ...]]:
    """What each request lacks, in words; nothing of one that gets its need."""
    served = model.covered_kg(ruled.mass_kg)
    left = model.stock_kg - model.taken_kg(ruled.mass_kg)
    lots = model.lots_used(ruled.mass_kg)
    begins = np.searchsorted(model.request, np.arange(len(region.needs) + 1))
    found: list[tuple[str, ...]] = []
    for place, need in enumerate(region.needs):
        rows = np.arange(begins[place], begins[place + 1])
        if served[place] >= FILLED_FROM_SHARE * float(need.need_kg) > 0:
            found.append(())
        elif need.without:
            found.append(need.without)
        elif len(rows) == 0:
            found.append(("each lot that suits it has a smallest parcel or package over what it needs",))
        else:
            share = None if ruled.shares is None else float(ruled.shares[place])
            found.append(tuple(_why_short(model, ruled.mass_kg, rows, left, int(lots[place]), share)))
    return found


def _why_short(
    model: Model, mass_kg: Numbers, rows: Numbers, left: Numbers, lots: int, share: float | None
) -> Iterator[str]:
    request, own = int(model.request[rows[0]]), model.lot[rows]
    to_others = float((model.stock_kg[own] - left[own]).sum() - mass_kg[rows].sum())
    if share is not None and share < FILLED_FROM_SHARE:
        yield f"its share under the rule is {100 * share:.0f} % of its need"
    if lots >= model.lots_max[request]:
        yield f"it takes from {lots} {'lot' if lots == 1 else 'lots'}, as many as it may"
    fresh = mass_kg[rows] == 0
    under = fresh & (left[own] > 0) & (left[own] < model.least_kg[rows])
    if to_others > 0:
        count = len(np.unique(model.parcel[rows]))
        yield f"{to_others:.1f} kg of the {count} {'lot' if count == 1 else 'lots'} that suit it go to other requests"
    if under.any():
        yield f"what is left of {int(under.sum())} of its lots is under the smallest parcel there"
    elif to_others <= 0 and lots < model.lots_max[request]:
        yield "the lots that suit it hold no more"
