"""From a region to its plan."""

import itertools

from service.market.allocation_planning import make_plan
from service.market.allocations import AllocationOrder
from tests.market.allocation_regions import a_lot, a_region, an_asker


def test_make_plan_gives_the_same_plan_again_and_first_come_never_has_more_value_than_the_best() -> None:
    region = a_region(
        [an_asker(n, "60", within_km=60.0, lots_max=2) for n in range(1, 5)],
        [a_lot("ALDER-2026-01", "70"), a_lot("BIRCH-2026-01", "90")],
    )
    heard: list[str] = []
    ticks = itertools.count()

    def plan() -> object:
        return make_plan(
            region, AllocationOrder(rounds_max=3), clock=lambda: 0.01 * next(ticks), tell=heard.append
        )

    first, again = plan(), plan()

    assert first.requests == again.requests  # type: ignore[attr-defined]
    assert first.tally.value >= first.first_come.value > 0  # type: ignore[attr-defined]
    assert "comparing with first come, first served" in heard
