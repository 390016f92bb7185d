"""A plan told: parcels from both sides, what is lacking, the proof, first come beside it."""

from decimal import Decimal

import numpy as np
import pytest

from service.market.goods.lots import Package
from service.market.planning.allocation_region import Region, model_of
from service.market.planning.allocation_report import exact, tell_plan
from service.market.planning.allocation_rules import Ruled, plan_by_rule
from service.market.planning.allocation_solving import Effort
from service.market.planning.allocations import AllocationPlan
from tests.market.planning.allocation_regions import a_lot, a_region, an_asker

EFFORT = Effort(clock=lambda: 0.0, until=600.0, rounds=3, price_rounds=60)


def told(region: Region, rule: str = "largest_value") -> AllocationPlan:
    model = model_of(region)
    ruled = plan_by_rule(
        model,
        rule=rule,
        firmness=[need.firmness for need in region.needs],
        arrival=range(len(region.needs)),
        effort=EFFORT,
    )
    return tell_plan(region, model, ruled, rule=rule, first_come_kg=np.zeros(model.pairs))


def test_parcels_stand_under_their_request_and_under_their_lot_with_the_same_mass() -> None:
    plan = told(
        a_region(
            [an_asker(1, "70"), an_asker(2, "50")], [a_lot("ALDER-2026-01"), a_lot("BIRCH-2026-01", "30")]
        )
    )

    of_requests = sorted((p.lot_code, p.request_code, p.mass_kg) for r in plan.requests for p in r.parcels)
    of_lots = sorted((p.lot_code, p.request_code, p.mass_kg) for lot in plan.lots for p in lot.parcels)
    assert of_requests == of_lots
    assert sum(lot.taken_kg for lot in plan.lots) == plan.tally.mass_kg == 120
    assert (plan.tally.requests_served, plan.tally.requests_filled) == (2, 2)
    assert plan.tally.distance_km_mean == 56
    assert plan.requests[0].lacks == ()


def test_packages_of_two_sizes_of_one_lot_are_one_parcel() -> None:
    packages = (
        Package(kind="foil", count=9, net_kg=Decimal(5)),
        Package(kind="box", count=4, net_kg=Decimal(20)),
    )
    plan = told(
        a_region(
            [an_asker(1, "85")], [a_lot("ALDER-2026-01", "93", sold_in="whole_packages", packages=packages)]
        )
    )

    assert [(p.lot_code, p.mass_kg) for p in plan.requests[0].parcels] == [("ALDER-2026-01", 85)]
    assert [(lot.free_kg, lot.taken_kg) for lot in plan.lots] == [(90, 85)]


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("largest_value", ["go to other requests"]),
        ("pro_rata", ["its share under the rule is 50 % of its need", "go to other requests"]),
    ],
)
def test_a_request_that_falls_short_is_told_why(rule: str, words: list[str]) -> None:
    plan = told(a_region([an_asker(1, "60"), an_asker(2, "60")], [a_lot("ALDER-2026-01", "60")]), rule)

    short = next(r for r in plan.requests if r.lacks_kg > 0)
    for part in words:
        assert part in " ".join(short.lacks)


def test_a_request_is_told_of_smallest_parcels_and_of_how_many_lots_it_takes() -> None:
    lots = [a_lot(f"ALDER-2026-0{n}", "40") for n in (1, 2)]
    few = told(a_region([an_asker(1, "60", lots_max=1)], [a_lot("ALDER-2026-01", "60")]))
    large = told(
        a_region([an_asker(1, "20", lots_max=2)], [a_lot("ALDER-2026-01", "60", order_kg_min=Decimal(50))])
    )

    assert few.requests[0].lacks == ()
    assert "order_kg_min" in large.requests[0].lacks[0]
    taken = told(a_region([an_asker(1, "100", lots_max=2)], [*lots, a_lot("BIRCH-2026-01", "30")]))
    assert "it takes from 2 lots, as many as it may" in taken.requests[0].lacks


def test_the_proof_of_a_small_plan_says_that_it_is_the_best_and_by_what() -> None:
    plan = told(a_region([an_asker(1)], [a_lot("ALDER-2026-01")]))

    assert plan.proof.is_optimal
    assert (plan.proof.gap_percent, plan.proof.bound) == (0, plan.proof.value)
    assert "mixed-integer program" in plan.proof.bound_name


def test_first_come_is_tallied_in_the_same_way() -> None:
    region = a_region([an_asker(1, "60")], [a_lot("ALDER-2026-01", "60")])
    model = model_of(region)
    ruled = Ruled(
        mass_kg=np.zeros(1),
        steps=plan_by_rule(
            model, rule="largest_value", firmness=["intent"], arrival=[0], effort=EFFORT
        ).steps,
    )

    plan = tell_plan(region, model, ruled, rule="largest_value", first_come_kg=np.array([60.0]))

    assert (plan.tally.requests_served, plan.first_come.requests_served) == (0, 1)
    assert plan.tally.distance_km_mean is None


def test_exact_forgets_the_last_digit() -> None:
    assert exact(12.3450000001) == Decimal("12.345")
