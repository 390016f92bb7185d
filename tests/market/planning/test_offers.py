"""Parcels of a plan as offers."""

from datetime import timedelta
from decimal import Decimal

import pytest

from service.errors import IllegalStep, OutOfRange
from service.facts import replace
from service.market.goods.lots import Lot
from service.market.planning.allocations import Allocation, Parcel
from service.market.planning.offers import OfferLine, decide_offers, require_acceptable
from service.market.trade.reservations import Reservation
from tests.factories import NOW, ListedLotFactory
from tests.market.planning.allocation_regions import an_asker
from tests.market.planning.test_allocations import a_parcel, a_plan

REQUESTS = {f"FINCH-REQ-0{n}": an_asker(n).request for n in (1, 2)}


def offered(lot: Lot, *parcels: tuple[int, str], **told: object) -> tuple[list[Reservation], list[OfferLine]]:
    return decide_offers(
        lot,
        [parcel(n, mass_kg) for n, mass_kg in parcels],
        REQUESTS,
        **{"promised": (), "held_until": None, "now": NOW, "made_by": "specialist", **told},  # type: ignore[arg-type]
    )


def parcel(number: int, mass_kg: str) -> Parcel:
    return replace(a_parcel("ALDER-2026-01", mass_kg), request_code=f"FINCH-REQ-0{number}")


def test_a_parcel_becomes_an_offer_with_the_alpha_it_brings() -> None:
    offers, refused = offered(ListedLotFactory(mass_kg=Decimal(100)), (1, "40"))

    assert refused == []
    assert [(o.state, o.brewery_code, o.request_code, o.mass_kg) for o in offers] == [
        ("offered", "FINCH", "FINCH-REQ-01", 40)
    ]
    assert 1.5 < (offers[0].alpha_kg or 0) < 2.2


def test_two_parcels_never_offer_the_same_kilograms_and_what_is_gone_is_named() -> None:
    offers, refused = offered(ListedLotFactory(mass_kg=Decimal(70)), (1, "40"), (2, "40"))

    assert [o.request_code for o in offers] == ["FINCH-REQ-01"]
    assert [(line.request_code, line.refusal) for line in refused] == [("FINCH-REQ-02", "not-enough-stock")]
    assert "30 kg free" in str(refused[0].detail)


def test_a_lot_that_was_withdrawn_meanwhile_is_named() -> None:
    _, refused = offered(ListedLotFactory(state="withdrawn"), (1, "40"))

    assert refused[0].refusal == "illegal-step"


def test_a_moment_that_cannot_be_refuses_the_whole() -> None:
    with pytest.raises(OutOfRange):
        offered(ListedLotFactory(mass_kg=Decimal(70)), (1, "40"), held_until=NOW - timedelta(days=1))


def test_a_plan_is_accepted_once() -> None:
    allocation = Allocation(plan=a_plan(), asked_at=NOW, asked_by="specialist")
    assert require_acceptable(allocation) == allocation.plan

    with pytest.raises(IllegalStep, match="was accepted by specialist already"):
        require_acceptable(replace(allocation, accepted_at=NOW, accepted_by="specialist"))
