"""The printed plan: every parcel, stop by stop, and what each brewery lacks."""

from datetime import date
from decimal import Decimal

import pytest

from service.facts import replace
from service.market.goods.lots import Package
from service.market.planning.allocations import Allocation, AllocationPlan, Proof, RequestInPlan, Tally
from service.sheets.plan import render_plan
from tests.factories import NOW
from tests.market.planning.test_allocations import a_lot, a_parcel
from tests.sheets.made import LONG_NAME, bare, printed_text, read

URL = "https://hops.example.org/v1/allocations/ALLOCATION-0001"


def plan(stops: int = 2) -> AllocationPlan:
    """A plan over so many growers."""
    box = Package(kind="box", count=2, net_kg=Decimal(5))
    parcels = [a_parcel(f"G{n:02d}-2026-01", f"{10 + n}.125") for n in range(stops)]
    parcels[:1] = [replace(one, packages=(box,)) for one in parcels[:1]]
    tally = Tally(
        value=12.5,
        mass_kg=sum((p.mass_kg for p in parcels), Decimal(0)),
        requests_served=1,
        requests_filled=0,
        parcels=stops,
        distance_km_mean=12.0,
    )
    request = RequestInPlan(
        request_code="KETTLE-REQ-01",
        brewery_code="KETTLE",
        brewery_name=LONG_NAME,
        firmness="firm",
        needed_on=date(2027, 2, 1),
        wanted_kg=Decimal(5000),
        by_alpha=False,
        served_kg=tally.mass_kg,
        parcels=tuple(parcels),
        lacks=("the lots that suit it hold no more",),
    )
    proof = Proof(
        value=12.5,
        bound=12.75,
        bound_name="linear relaxation",
        gap_percent=1.9608,
        is_optimal=False,
        method="search",
        seconds=0.2,
    )
    return AllocationPlan(
        rule="largest_value",
        planned_on=date(2026, 11, 25),
        requests=(request,),
        lots=tuple(a_lot(parcel.lot_code, parcel) for parcel in parcels),
        tally=tally,
        first_come=tally,
        proofs=(proof,),
        assumptions=("distances are great-circle distances, not roads",),
    )


def allocation(stops: int = 2) -> Allocation:
    """An allocation over so many growers."""
    return Allocation(code="ALLOCATION-0001", plan=plan(stops), asked_at=NOW, asked_by="specialist")


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_parcel_stands_at_its_stop(paper: str) -> None:
    told = plan(30)
    file = render_plan(allocation(30), url=URL, paper=paper)
    text = printed_text(file)

    assert len(read(file).pages) > 1
    for number, grower in enumerate(told.by_grower(), start=1):
        assert f"Stop{number}:Ayard[{grower.grower_code}],{grower.taken_kg}kg" in text
        assert grower.lots[0].lot_code in text
    assert "None" not in text
    assert bare("Willamette, pellets, type 90, 2 × box of 5 kg") in text
    assert (
        bare("0 requests get their whole need and 1 a part of it; first come, first served: 0 and 1") in text
    )
    assert bare("the lots that suit it hold no more") in text
    assert bare("value 12.5, no plan has more than 12.75 (linear relaxation); gap 1.961 %") in text


def test_a_plan_that_takes_nothing_says_so_and_an_accepted_one_says_when() -> None:
    assert "Nothingistakeninthisplan." in printed_text(render_plan(allocation(0), url=URL))
    assert "Aproposal,notaccepted" in printed_text(render_plan(allocation(), url=URL))
    accepted = replace(allocation(), accepted_at=NOW)
    assert "Accepted25Nov2026" in printed_text(render_plan(accepted, url=URL))


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert render_plan(allocation(), url=URL) == render_plan(allocation(), url=URL)
