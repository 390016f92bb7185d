"""From a region as it was read to a plan that is told."""

from collections.abc import Callable

from service.market.planning.allocation_region import Region, arrival_of, model_of
from service.market.planning.allocation_report import tell_plan
from service.market.planning.allocation_rules import plan_by_rule
from service.market.planning.allocation_solving import Effort
from service.market.planning.allocation_start import take_in_turn
from service.market.planning.allocations import AllocationOrder, AllocationPlan


def make_plan(
    region: Region, order: AllocationOrder, *, clock: Callable[[], float], tell: Callable[[str], None]
) -> AllocationPlan:
    """Plan a region as it was ordered; `clock` tells seconds since any beginning, `tell` hears how far it is."""
    model = model_of(region)
    effort = Effort(
        clock=clock, until=clock() + order.seconds_max, rounds=order.rounds_max, seed=order.seed, tell=tell
    )
    arrival = arrival_of(region)
    firmness = [need.firmness for need in region.needs]
    ruled = plan_by_rule(model, rule=order.rule, firmness=firmness, arrival=arrival, effort=effort)
    tell("comparing with first come, first served")
    first_come = take_in_turn(model, arrival)
    return tell_plan(region, model, ruled, rule=order.rule, first_come_kg=first_come)
