"""From a region to its plan: parcels from both sides, what is lacking, the proof, first come beside it."""

import itertools
from decimal import Decimal

import pytest

from service.market.goods.lots import Package
from service.market.matching.requests import Delivery
from service.market.planning.allocations import AllocationOrder, AllocationPlan
from service.market.planning.gathering import Region
from service.market.planning.report import exact, plan_region
from tests.market.planning.allocation_regions import ON, a_lot, a_region, an_asker


def told(region: Region, rule: str = "largest_value", **order: object) -> AllocationPlan:
    return plan_region(region, AllocationOrder(rule=rule, **order), clock=lambda: 0.0)  # type: ignore[arg-type]


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
    assert "integer program" in plan.proof.bound_name


def test_a_plan_comes_again_and_first_come_never_has_more_value_than_the_best() -> None:
    region = a_region(
        [an_asker(n, "60", within_km=60.0, lots_max=2) for n in range(1, 5)],
        [a_lot("ALDER-2026-01", "70"), a_lot("BIRCH-2026-01", "90")],
    )
    progress: list[str] = []
    ticks = itertools.count()

    first, again = (
        plan_region(region, AllocationOrder(), clock=lambda: 0.01 * next(ticks), log=progress.append)
        for _ in range(2)
    )

    assert first.requests == again.requests
    assert first.tally.value >= first.first_come.value > 0
    assert progress[0] == "solving the integer program of 8 pairs of request and lot"
    assert first.summary[0].startswith("2 of 4 requests get their whole need")


def test_a_plan_that_the_time_cut_short_says_how_far_it_came() -> None:
    region = a_region([an_asker(1), an_asker(2)], [a_lot("ALDER-2026-01")])
    ticks = itertools.count()

    plan = plan_region(region, AllocationOrder(seconds_max=1.0), clock=lambda: 2.0 * next(ticks))

    assert plan.proof.is_cut
    assert plan.cautions == (
        f"the 1 s ended before the work did (all requests): the plan is at most {plan.proof.gap_percent:.1f} %"
        " under the best one, and more time may give a better plan or a closer bound",
    )
    assert plan.tally == plan.first_come


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

    plan = told(region)

    assert [p.mass_kg for p in plan.requests[0].parcels] == ([given_kg] if given_kg else [])
    assert plan.proofs[0].is_optimal
    assert plan.tally.parcels == (1 if given_kg else 0)
    for parcel in plan.requests[0].parcels:
        assert sum(one.count * one.net_kg for one in parcel.packages) == given_kg
        assert all(one.count <= 2 for one in parcel.packages)
    assert plan.tally.distance_km_mean == (56 if given_kg else None)


@pytest.mark.parametrize("rule", ["largest_value", "firmness", "arrival", "pro_rata"])
def test_no_parcel_of_a_few_hundred_grams_comes_out(rule: str) -> None:
    # Two needs take all but 427 g of a lot; the third gets nothing of it rather than the rest.
    askers = [an_asker(1, "60"), an_asker(2, "39.573"), an_asker(3, "80")]
    region = a_region(askers, [a_lot("ALDER-2026-01", "100")])

    plan = told(region, rule)

    given = [p.mass_kg for request in plan.requests for p in request.parcels]
    assert given
    assert min(given) >= 5
    assert "5 kg" in " ".join(plan.assumptions)
    assert "smallest" not in " ".join(told(region, rule, parcel_kg_min=Decimal(1)).assumptions)


def test_a_lot_sold_by_weight_is_planned_in_weighing_steps() -> None:
    wanted = Delivery(needed_on=ON, alpha_kg=Decimal(6))
    lots = [
        a_lot("ALDER-2026-01", "33.333", alpha_percent=9.1),
        a_lot("BIRCH-2026-01", "60.777", alpha_percent=8.3),
    ]

    plan = told(a_region([an_asker(1, deliveries=(wanted,))], lots))

    masses = {p.lot_code: p.mass_kg for p in plan.requests[0].parcels}
    # One lot is taken whole; of the other what is missing, in steps of 0.1 kg (house figure).
    whole = [lot for lot in plan.lots if lot.left_kg == 0]
    assert len(whole) == 1
    assert [kg % Decimal("0.1") for code, kg in masses.items() if code != whole[0].lot_code] == [0]
    assert plan.tally.requests_filled == 1


def test_a_need_of_alpha_that_no_lot_suits_tells_how_much_is_lacking() -> None:
    wanted = Delivery(needed_on=ON, alpha_kg=Decimal(6))
    region = a_region(
        [an_asker(1, deliveries=(wanted,), alpha_percent_min=20.0)],
        [a_lot(f"ALDER-2026-0{n}", alpha_percent=alpha) for n, alpha in ((1, 5.0), (2, 6.0), (3, 12.0))]
        + [a_lot("ALDER-2026-04")],
    )

    plan = told(region)

    assert plan.requests[0].wanted_kg == plan.requests[0].lacks_kg == Decimal(100)
    assert plan.requests[0].lacks == ("no free lot keeps all its limits: 3 lots fail only alpha_percent_min",)


def test_exact_forgets_the_last_digit() -> None:
    assert exact(12.3450000001) == Decimal("12.345")
