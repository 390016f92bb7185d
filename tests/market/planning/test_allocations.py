"""The facts of a plan, told from every side."""

from datetime import date
from decimal import Decimal

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


def test_a_plan_tells_by_grower_only_what_is_taken() -> None:
    birch, alder = a_parcel("BIRCH-2026-01", "40"), a_parcel("ALDER-2026-02", "25.5")
    nothing = Tally(
        value=0, mass_kg=Decimal(0), requests_served=0, requests_filled=0, parcels=0, distance_km_mean=None
    )
    plan = AllocationPlan(
        rule="largest_value",
        planned_on=date(2026, 11, 25),
        requests=(),
        lots=(
            a_lot("BIRCH-2026-01", birch),
            a_lot("ALDER-2026-01"),
            a_lot("ALDER-2026-02", alder),
        ),
        tally=nothing,
        first_come=nothing,
        proofs=(),
    )

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
