"""The facts of a plan, told from every side."""

from datetime import date
from decimal import Decimal
from typing import Any

from service.market.planning.allocations import AllocationPlan, LotInPlan, Parcel, RequestInPlan, Tally


def a_parcel(lot_code: str, mass_kg: str) -> Parcel:
    return Parcel(
        request_code="KETTLE-REQ-01",
        brewery_code="KETTLE",
        lot_code=lot_code,
        grower_code=lot_code.split("-")[0],
        cultivar="Willamette",
        form="pellet",
        mass_kg=Decimal(mass_kg),
        covers_kg=Decimal(mass_kg),
        score=0.5,
        value=float(mass_kg) / 2,
        distance_km=12,
    )


def a_lot(lot_code: str, *parcels: Parcel) -> LotInPlan:
    return LotInPlan(
        lot_code=lot_code,
        grower_code=lot_code.split("-")[0],
        grower_name="A yard",
        cultivar="Willamette",
        form="pellet",
        free_kg=Decimal(100),
        parcels=parcels,
    )


def a_tally(**figures: Any) -> Tally:
    """A plan of nothing, but for some figures."""
    nothing = {
        "value": 0.0,
        "mass_kg": Decimal(0),
        "requests_served": 0,
        "requests_filled": 0,
        "parcels": 0,
        "distance_km_mean": None,
    }
    return Tally(**{**nothing, **figures})


def a_plan(*lots: LotInPlan, **told: Any) -> AllocationPlan:
    """A plan of some lots."""
    kept = {"tally": a_tally(), "first_come": a_tally(), **told}
    return AllocationPlan(
        rule="largest_value", planned_on=date(2026, 11, 25), requests=(), lots=lots, proofs=(), **kept
    )


def test_a_plan_says_in_requests_kilograms_and_kilometres_what_its_value_means() -> None:
    whole = {"requests": 5, "wanted_kg": Decimal(300), "mass_kg": Decimal(150), "parcels": 4}
    plan = a_plan(
        tally=a_tally(
            value=120.0,
            covered_kg=Decimal(160),
            requests_served=4,
            requests_filled=3,
            distance_km_mean=56.2,
            **whole,
        ),
        first_come=a_tally(
            value=90.0,
            covered_kg=Decimal(140),
            requests_served=3,
            requests_filled=2,
            distance_km_mean=71.8,
            **whole,
        ),
    )

    assert plan.summary == (
        "3 of 5 requests get their whole need and 1 a part of it; first come, first served: 2 and 1",
        "160.0 kg of the 300.0 kg wanted are covered; first come, first served: 140.0 kg",
        "the value 120.0 is these kilograms times their scores, which are 0.75 on average;"
        " first come, first served: 90.0",
        "a kilogram travels 56 km on average; first come, first served: 72 km",
    )


def test_a_plan_that_gives_nothing_or_was_kept_before_needs_were_added_up_says_what_it_knows() -> None:
    assert a_plan().summary == (
        "0 requests get their whole need and 0 a part of it; first come, first served: 0 and 0",
    )
    nothing = a_tally(requests=2, wanted_kg=Decimal(9), covered_kg=Decimal(0))
    assert a_plan(tally=nothing, first_come=nothing).summary == (
        "0 of 2 requests get their whole need and 0 a part of it; first come, first served: 0 and 0",
        "0.0 kg of the 9.0 kg wanted are covered; first come, first served: 0.0 kg",
    )


def test_a_plan_tells_by_grower_only_what_is_taken() -> None:
    birch, alder = a_parcel("BIRCH-2026-01", "40"), a_parcel("ALDER-2026-02", "25.5")
    plan = a_plan(a_lot("BIRCH-2026-01", birch), a_lot("ALDER-2026-01"), a_lot("ALDER-2026-02", alder))

    told = list(plan.by_grower())

    assert [(g.grower_code, g.taken_kg, [lot.lot_code for lot in g.lots]) for g in told] == [
        ("ALDER", Decimal("25.5"), ["ALDER-2026-02"]),
        ("BIRCH", Decimal("40"), ["BIRCH-2026-01"]),
    ]
    assert told[0].lots[0].left_kg == Decimal("74.5")


def test_a_request_in_a_plan_lacks_what_is_not_served_and_never_less_than_nothing() -> None:
    def lacking(served: str) -> Decimal:
        return RequestInPlan(
            request_code="KETTLE-REQ-01",
            brewery_code="KETTLE",
            brewery_name="Kettle",
            firmness="firm",
            needed_on=date(2027, 2, 1),
            wanted_kg=Decimal(60),
            by_alpha=False,
            served_kg=Decimal(served),
            parcels=(),
        ).lacks_kg

    assert lacking("45.5") == Decimal("14.5")
    assert lacking("60.001") == 0
