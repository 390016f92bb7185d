"""From a region to its plan."""

import itertools
from decimal import Decimal

import pytest

from service.market.goods.lots import Package
from service.market.matching.requests import Delivery
from service.market.planning.allocation_planning import make_plan
from service.market.planning.allocations import AllocationOrder
from tests.market.planning.allocation_regions import ON, a_lot, a_region, an_asker


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


TWO_SIZES = {
    "sold_in": "whole_packages",
    "order_kg_min": Decimal(25),
    "packages": (
        Package(kind="box", count=2, net_kg=Decimal(20)),
        Package(kind="foil", count=2, net_kg=Decimal(5)),
    ),
}


@pytest.mark.parametrize(
    ("wanted_kg", "lots_max", "given_kg"),
    [("45", 1, 45), ("30", 1, 30), ("25", 1, 25), ("24", 1, 0), ("38", 2, 30)],
)
def test_packages_of_two_sizes_are_one_lot_and_one_parcel(
    wanted_kg: str, lots_max: int, given_kg: int
) -> None:
    region = a_region(
        [an_asker(1, wanted_kg, lots_max=lots_max)], [a_lot("ALDER-2026-01", "50", **TWO_SIZES)]
    )

    plan = make_plan(region, AllocationOrder(), clock=lambda: 0.0, tell=lambda words: None)

    assert [p.mass_kg for p in plan.requests[0].parcels] == ([given_kg] if given_kg else [])
    assert plan.proofs[0].is_optimal
    assert plan.tally.parcels == (1 if given_kg else 0)


def test_a_need_of_alpha_that_no_lot_suits_tells_how_much_is_lacking() -> None:
    wanted = Delivery(needed_on=ON, alpha_kg=Decimal(6))
    region = a_region(
        [an_asker(1, deliveries=(wanted,), alpha_percent_min=20.0)],
        [a_lot(f"ALDER-2026-0{n}", alpha_percent=alpha) for n, alpha in ((1, 5.0), (2, 6.0), (3, 12.0))]
        + [a_lot("ALDER-2026-04")],
    )

    plan = make_plan(region, AllocationOrder(), clock=lambda: 0.0, tell=lambda words: None)

    assert plan.requests[0].wanted_kg == plan.requests[0].lacks_kg == Decimal(100)
    assert plan.requests[0].lacks == ("no free lot keeps all its limits: 3 lots fail only alpha_percent_min",)
