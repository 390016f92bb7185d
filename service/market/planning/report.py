"""From a region to its plan: who takes what from whom, what each request lacks, the proof, and first come beside it."""

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal

import numpy as np

from service.facts import replace
from service.market.goods.lots import Package
from service.market.matching.requests import FILLED_FROM_SHARE
from service.market.planning.allocations import (
    AllocationOrder,
    AllocationPlan,
    LotInPlan,
    Parcel,
    Proof,
    RequestInPlan,
    Tally,
)
from service.market.planning.first_come import take_in_turn
from service.market.planning.gathering import LotInRegion, NeedInRegion, Region, arrival_of, model_of
from service.market.planning.model import Model
from service.market.planning.rules import Ruled, figures_of, is_met, plan_by_rule
from service.market.planning.solving import Effort, Solution
from service.reference.assumptions import get_assumption
from service.science.arrays import Numbers, Places

ASSUMPTIONS = (
    "the value of a parcel is the lot's score for the request times the kilograms of need it covers; the weights and"
    " scales of the score are house figures (assumption, no source)",
    "a need of alpha acids counts as the mass it takes of the middle one of the lots that suit it; where none does, of"
    " the region's free lots whose alpha is known",
    "what is held, confirmed or delivered comes first: it is taken off the needs and is not free",
    "distances are great-circle distances, not roads",
)


def plan_region(
    region: Region,
    order: AllocationOrder,
    *,
    clock: Callable[[], float],
    log: Callable[[str], None] = lambda words: None,
) -> AllocationPlan:
    """Plan a region as it was ordered; `clock` reads the seconds since any beginning, `log` hears the progress."""
    model, arrival = model_of(region), arrival_of(region)
    effort = Effort(clock=clock, until=clock() + order.seconds_max, log=log)
    ruled = plan_by_rule(
        model,
        rule=order.rule,
        firmness=[need.firmness for need in region.needs],
        arrival=arrival,
        distance_km=distances_km(region, model),
        effort=effort,
    )
    first_come_kg = take_in_turn(model, arrival)
    return report_plan(region, model, ruled, order=order, first_come_kg=first_come_kg)


def distances_km(region: Region, model: Model) -> Numbers:
    """How far each pair is apart."""
    km: Numbers = np.array([pair.distance_km for pair in region.pairs], dtype=float)[model.origin]
    return km


def report_plan(
    region: Region, model: Model, ruled: Ruled, *, order: AllocationOrder, first_come_kg: Numbers
) -> AllocationPlan:
    """Report a plan from the side of the requests and of the lots."""
    parcels = _parcels(region, model, ruled.mass_kg)
    of_request: dict[str, list[Parcel]] = {}
    of_lot: dict[str, list[Parcel]] = {}
    for parcel in parcels:
        of_request.setdefault(parcel.request_code, []).append(parcel)
        of_lot.setdefault(parcel.lot_code, []).append(parcel)
    lacks = _lacks(region, model, ruled)
    return AllocationPlan(
        rule=order.rule,
        planned_on=region.read_on,
        requests=tuple(
            _request(need, of_request.get(need.request_code, []), lacks[place])
            for place, need in enumerate(region.needs)
        ),
        lots=tuple(_lots(region.lots, of_lot)),
        tally=_tally(region, model, ruled.mass_kg),
        first_come=_tally(region, model, first_come_kg),
        proofs=tuple(_proof(name, step) for name, step in ruled.steps),
        assumptions=(*ASSUMPTIONS, *_of_parcels(region, order)),
        cautions=(*region.cautions, *_cut_short(ruled, order)),
    )


def _of_parcels(region: Region, order: AllocationOrder) -> Iterator[str]:
    names = ["parcel_step_kg"]
    if order.parcel_kg_min is None:
        names.insert(0, "smallest_parcel_kg")
    for name in names:
        assumption = get_assumption(name)
        yield f"{assumption.words} ({assumption.mark})"


def _cut_short(ruled: Ruled, order: AllocationOrder) -> Iterator[str]:
    cut = [name for name, step in ruled.steps if step.is_cut]
    if cut:
        gap = 100 * ruled.steps[-1][1].gap
        yield (
            f"the {order.seconds_max:g} s ended before the work did ({'; '.join(cut)}): the plan is at most {gap:.1f} %"
            " under the best one, and more time may give a better plan or a closer bound"
        )


def exact(mass_kg: float) -> Decimal:
    """A mass of a plan, which is a whole number of grams but for the last digit.

    >>> exact(40.000000001)
    Decimal('40.000')

    """
    return Decimal(round(mass_kg * 1000)).scaleb(-3)


def _parcels(region: Region, model: Model, mass_kg: Numbers) -> list[Parcel]:
    found = []
    parcels_kg, entries = model.parcels_kg(mass_kg), region.entries
    begins = np.searchsorted(model.pair, np.arange(model.pairs + 1)).tolist()
    for place in np.flatnonzero(parcels_kg > 0).tolist():
        pair, mass = region.pairs[int(model.origin[place])], float(parcels_kg[place])
        need, lot = region.needs[pair.need], region.lots[pair.lot]
        parts = range(begins[place], begins[place + 1])
        taken = [(entries[model.goods[part]][1].package, float(mass_kg[part])) for part in parts]
        found.append(
            Parcel(
                request_code=need.request_code,
                brewery_code=need.brewery_code,
                lot_code=lot.lot_code,
                grower_code=lot.grower_code,
                cultivar=lot.cultivar,
                form=lot.form,
                mass_kg=exact(mass),
                covers_kg=exact(mass * pair.covers),
                score=pair.score,
                value=round(mass * pair.covers * pair.score, 6),
                distance_km=pair.distance_km,
                price_per_kg=lot.price_per_kg,
                currency=lot.currency,
                packages=tuple(_packages(taken)),
                wish_key=need.wish_key,
            )
        )
    return sorted(found, key=lambda p: (p.request_code, -p.mass_kg, p.lot_code))


def _packages(taken: Sequence[tuple[Package | None, float]]) -> Iterator[Package]:
    for package, kg in taken:
        if package and kg > 0:
            yield replace(package, count=round(kg / float(package.net_kg)))


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


def _lots(lots: Sequence[LotInRegion], of_lot: dict[str, list[Parcel]]) -> Iterator[LotInPlan]:
    for lot in sorted(lots, key=lambda one: one.lot_code):
        yield LotInPlan(
            lot_code=lot.lot_code,
            grower_code=lot.grower_code,
            grower_name=lot.grower_name,
            cultivar=lot.cultivar,
            form=lot.form,
            free_kg=lot.free_kg,
            parcels=tuple(of_lot.get(lot.lot_code, ())),
        )


def _tally(region: Region, model: Model, mass_kg: Numbers) -> Tally:
    figures = figures_of(model, mass_kg, distances_km(region, model))
    total = float(mass_kg.sum())
    return Tally(
        value=round(model.worth(mass_kg), 3),
        mass_kg=exact(total),
        wanted_kg=sum((need.need_kg for need in region.needs), Decimal(0)),
        covered_kg=exact(figures.covered_kg),
        requests=len(region.needs),
        requests_served=int((model.covered_kg(mass_kg) > 0).sum()),
        requests_filled=figures.requests_met,
        parcels=int((model.parcels_kg(mass_kg) > 0).sum()),
        distance_km_mean=figures.km if total > 0 else None,
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
        is_cut=step.is_cut,
        seconds=round(step.seconds, 2),
    )


def _lacks(region: Region, model: Model, ruled: Ruled) -> list[tuple[str, ...]]:
    """What each request lacks, in words; nothing of one that gets its need."""
    met = is_met(model, ruled.mass_kg)
    left_kg = np.bincount(model.lot_of_goods, model.stock_kg - model.taken_kg(ruled.mass_kg)).astype(float)
    lots = model.lots_used(ruled.mass_kg)
    begins = np.searchsorted(model.request, np.arange(len(region.needs) + 1))
    found: list[tuple[str, ...]] = []
    for place, need in enumerate(region.needs):
        pairs = np.arange(begins[place], begins[place + 1])
        if met[place]:
            found.append(())
        elif need.without:
            found.append(need.without)
        elif len(pairs) == 0:
            found.append(("each lot that suits it has a smallest parcel or package over what it needs",))
        else:
            share = None if ruled.shares is None else float(ruled.shares[place])
            found.append(tuple(_why_short(model, ruled.mass_kg, pairs, left_kg, int(lots[place]), share)))
    return found


def _why_short(
    model: Model, mass_kg: Numbers, pairs: Places, left_kg: Numbers, lots: int, share: float | None
) -> Iterator[str]:
    request, own = int(model.request[pairs[0]]), model.lot[pairs]
    parcels_kg = model.parcels_kg(mass_kg)[pairs]
    to_others = float((model.lot_kg[own] - left_kg[own]).sum() - parcels_kg.sum())
    if share is not None and share < FILLED_FROM_SHARE:
        yield f"its share under the rule is {100 * share:.0f} % of its need"
    if lots >= model.lots_max[request]:
        yield f"it takes from {lots} {'lot' if lots == 1 else 'lots'}, as many as it may"
    under = (parcels_kg == 0) & (left_kg[own] > 0) & (left_kg[own] < model.least_kg[pairs])
    if to_others > 0:
        suits = f"the {len(own)} lots that suit it go" if len(own) > 1 else "the 1 lot that suits it go"
        yield f"{to_others:.1f} kg of {suits} to other requests"
    if under.any():
        yield f"what is left of {int(under.sum())} of its lots is under the smallest parcel there"
    elif to_others <= 0 and lots < model.lots_max[request]:
        yield "the lots that suit it hold no more"
