"""Plans of the region in the records."""

import pytest
from msgspec import convert, to_builtins
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.facts import replace
from service.market.planning.allocations import Allocation, AllocationOrder, AllocationPlan
from service.market.planning.report import plan_region
from service.records.planning import allocations
from tests.factories import NOW
from tests.market.planning.allocation_regions import a_lot, a_region, an_asker


def an_allocation() -> Allocation:
    order = AllocationOrder(rule="pro_rata", note="after picking")
    plan = plan_region(a_region([an_asker(1)], [a_lot("ALDER-2026-01")]), order, clock=lambda: 0.0)
    return Allocation(order=order, plan=plan, asked_at=NOW, asked_by="specialist")


def test_a_plan_comes_back_as_it_was_kept(session: Session) -> None:
    kept = allocations.add(session, an_allocation())
    session.expire_all()

    assert allocations.get(session, kept.code) == kept == replace(an_allocation(), code=kept.code)
    allocations.accept(session, kept.code, at=NOW, by="specialist")
    session.expire_all()
    assert allocations.get(session, kept.code, lock=True).accepted_by == "specialist"


def test_allocations_are_searched_newest_first_without_their_plans(session: Session) -> None:
    codes = [allocations.add(session, an_allocation()).code for _ in range(3)]

    (third, position), (second, _) = allocations.search(session, after=None, limit=2)

    assert [third.code, second.code] == codes[:0:-1]
    assert not hasattr(third, "plan")
    assert [found.code for found, _ in allocations.search(session, after=position, limit=5)] == codes[1::-1]


def test_a_plan_that_was_kept_when_a_worker_made_it_is_still_read() -> None:
    kept = to_builtins(an_allocation().plan)
    for tally in (kept["tally"], kept["first_come"]):
        for name in ("wanted_kg", "covered_kg", "requests"):
            del tally[name]
    for proof in kept["proofs"]:
        del proof["is_cut"]
        proof["rounds"] = 12

    plan = convert(kept, AllocationPlan)

    assert plan.proof.gap_percent == an_allocation().plan.proof.gap_percent
    assert (plan.tally.covered_kg, plan.proof.is_cut) == (None, False)
    assert convert({"rule": "arrival", "rounds_max": 3, "seed": 1}, AllocationOrder) == AllocationOrder(
        rule="arrival"
    )


def test_get_knows_no_allocation_that_was_never_asked_for(session: Session) -> None:
    with pytest.raises(NotFound):
        allocations.get(session, "ALLOCATION-0099")
