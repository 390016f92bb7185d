"""Two plans on the loaded region: lots that together serve one brewery, and lots for all requests at once."""

from typing import Any

from seed_demo.saying import Tour, kg, tell, title
from service.market.people.access import Caller
from service.market.planning.allocations import AllocationOrder, AllocationPlan
from service.usecases.matching.combinations import combine_for_request
from service.usecases.planning.allocations import keep_allocation, make_plan, read_region

BREWERY, SPECIALIST = Caller("brewery", "FINCH"), Caller("specialist", None)
GROWERS_SHOWN = 3


def show_combination(tour: Tour, request_code: str) -> None:
    """The cheapest lots that together meet a request; or why there are none."""
    asked: dict[str, Any] = {"aim": "cheapest", "currency": "CAD", "lots_max": 3}
    found = tour.records.read(
        lambda s: combine_for_request(s, request_code, caller=BREWERY, asked=asked, now=tour.now)
    )
    title(tour, f"The cheapest lots that together meet {request_code}, three at most")
    if found.combination is None or found.proof is None:
        tell(tour, found.why_none.words if found.why_none else "none was found", lead="")
        return
    for parcel in found.combination.parcels:
        tour.say(
            f"{kg(parcel.mass_kg):>8} kg of {parcel.lot_code:<18} {parcel.cultivar:<16} {parcel.amount} {parcel.currency}"
        )
    figures = found.combination.figures
    proof = "proven the cheapest" if found.proof.is_optimal else f"within {found.proof.gap_percent} %"
    amounts = ", ".join(f"{amount} {currency}" for currency, amount in figures.amounts.items())
    tour.say(
        f"{kg(figures.mass_kg):>8} kg in all, {figures.alpha_percent_when_needed} % alpha, {amounts}: {proof}"
        f" of {found.candidates} lots"
    )


def show_plan(tour: Tour) -> None:
    """Every open request against every free lot, as the specialist plans it."""
    order = AllocationOrder()
    region = tour.records.read(lambda s: read_region(s, order, caller=SPECIALIST, now=tour.now))
    plan = make_plan(region, order)
    kept = tour.records.write(
        lambda s: keep_allocation(s, plan, order=order, caller=SPECIALIST, now=tour.now)
    )
    title(tour, f"{kept.code}: all open requests against all free lots at once")
    _tell_plan(tour, plan)


def _tell_plan(tour: Tour, plan: AllocationPlan) -> None:
    for line in plan.summary:
        tell(tour, line)
    proof = plan.proof
    words = "proven the best" if proof.is_optimal else f"at most {proof.gap_percent:.2f} % under the best"
    tell(tour, f"{words}: nothing exceeds {proof.bound:.1f} ({proof.bound_name})")
    growers = list(plan.by_grower())
    for grower in growers[:GROWERS_SHOWN]:
        tour.say(f"{grower.grower_name} gives {kg(grower.taken_kg)} kg:")
        for lot in grower.lots:
            takers = ", ".join(f"{kg(p.mass_kg)} kg to {p.request_code}" for p in lot.parcels)
            tell(tour, f"{lot.lot_code:<18} {takers}")
    if len(growers) > GROWERS_SHOWN:
        tour.say(f"and {len(growers) - GROWERS_SHOWN} more growers")
    for request in plan.requests:
        for lack in request.lacks:
            tell(tour, f"{request.request_code} lacks {kg(request.lacks_kg)} kg: {lack}")
