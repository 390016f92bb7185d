"""After the delivery: what the brewery found, and what comes back."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import IllegalStep, InvalidRequest, OutOfRange
from service.facts import replace
from service.market.goods.lots import Package
from service.market.trade.deliveries import Receipt, decide_receipt, decide_return
from service.market.trade.reservations import Reservation
from tests.factories import NOW, TODAY

DELIVERED = Reservation(
    code="FINCH-RES-01",
    lot_code="A",
    grower_code="ALDER",
    brewery_code="FINCH",
    state="delivered",
    mass_kg=Decimal(50),
    delivered_on=date(2026, 11, 20),
    delivered_kg=Decimal("49.5"),
    made_at=NOW,
    made_by="brewery:FINCH",
    changed_at=NOW,
    changed_by="grower:ALDER",
)


def a_receipt(**told: Any) -> Receipt:
    plain: dict[str, Any] = {
        "reservation_code": "FINCH-RES-01",
        "received_on": date(2026, 11, 21),
        "accepted_kg": Decimal("49.4"),
        "condition": "sound",
        "made_at": NOW,
        "made_by": "brewery:FINCH",
    }
    return Receipt(**plain | told)


def receive(
    receipt: Receipt, *, promise: Reservation = DELIVERED, before: Receipt | None = None
) -> list[str]:
    try:
        decide_receipt(promise, receipt, before=before, today=TODAY)
    except InvalidRequest as refused:
        return [error["pointer"] for error in refused.facts["errors"]]
    return []


REFUSED = a_receipt(
    accepted_kg=Decimal(0), refused_kg=Decimal("49.5"), condition="musty", reason="mould in two foils"
)


@pytest.mark.parametrize(
    ("receipt", "pointers"),
    [
        (a_receipt(), []),
        (REFUSED, []),
        (a_receipt(refused_kg=Decimal("0.1")), ["#/reason"]),
        (a_receipt(accepted_kg=Decimal(0)), ["#/accepted_kg"]),
        (a_receipt(accepted_kg=Decimal(494)), ["#/accepted_kg"]),
        (
            a_receipt(agreed_price_per_kg=Decimal(18), currency="CAD"),
            [],
        ),
        (
            a_receipt(
                accepted_kg=Decimal(0),
                refused_kg=Decimal(49),
                reason="mould",
                agreed_price_per_kg=Decimal(18),
                currency="CAD",
            ),
            ["#/agreed_price_per_kg"],
        ),
        (a_receipt(currency="CAD"), ["#/agreed_price_per_kg"]),
        (
            a_receipt(agreed_price_per_kg=Decimal(18)),
            ["#/currency"],
        ),
        (a_receipt(packages=(Package(kind="foil", count=10, net_kg=Decimal(5)),)), ["#/packages"]),
    ],
)
def test_a_receipt_names_everything_that_cannot_be(receipt: Receipt, pointers: list[str]) -> None:
    assert receive(receipt) == pointers


def test_a_correction_says_why() -> None:
    assert receive(a_receipt(), before=a_receipt()) == ["#/reason"]
    assert receive(a_receipt(reason="the scale was off"), before=a_receipt()) == []


@pytest.mark.parametrize("day", [date(2026, 11, 19), date(2026, 11, 27)])
def test_hops_arrive_between_the_delivery_and_today(day: date) -> None:
    with pytest.raises(OutOfRange):
        receive(a_receipt(received_on=day))


def test_what_was_not_delivered_is_not_received() -> None:
    with pytest.raises(IllegalStep):
        receive(a_receipt(), promise=replace(DELIVERED, state="confirmed"))
    with pytest.raises(IllegalStep):
        receive(a_receipt(), promise=replace(DELIVERED, returned_kg=Decimal(1)))


def bring_back(
    receipt: Receipt | None = REFUSED, promise: Reservation = DELIVERED, **told: Any
) -> Reservation:
    plain: dict[str, Any] = {
        "mass_kg": Decimal(49),
        "returned_on": date(2026, 11, 23),
        "by": "grower:ALDER",
        "now": NOW,
    }
    return decide_return(promise, receipt, **plain | told)


def test_refused_hops_stand_with_the_brewery_until_they_are_booked_back() -> None:
    assert DELIVERED.taken_kg == Decimal("49.5")
    assert bring_back().taken_kg == Decimal("0.5")


@pytest.mark.parametrize(
    ("told", "refusal"),
    [
        ({"receipt": None}, IllegalStep),
        ({"receipt": a_receipt()}, IllegalStep),
        ({"promise": replace(DELIVERED, returned_kg=Decimal("49.5"))}, IllegalStep),
        ({"promise": replace(DELIVERED, returned_kg=Decimal(1))}, OutOfRange),
        ({"mass_kg": Decimal(50)}, OutOfRange),
        ({"mass_kg": Decimal(0)}, OutOfRange),
        ({"returned_on": date(2026, 11, 20)}, OutOfRange),
        ({"returned_on": date(2026, 12, 20)}, OutOfRange),
    ],
)
def test_a_return_is_refused(told: dict[str, Any], refusal: type[Exception]) -> None:
    with pytest.raises(refusal):
        bring_back(**told)


@given(st.lists(st.integers(1, 60_000), max_size=12))
def test_however_many_trips_it_takes_no_more_comes_back_than_was_delivered(trips_g: list[int]) -> None:
    promise = DELIVERED
    for trip_g in trips_g:
        mass_kg, before_kg = Decimal(trip_g) / 1000, promise.taken_kg
        try:
            promise = bring_back(promise=promise, mass_kg=mass_kg)
        except (IllegalStep, OutOfRange):
            assert mass_kg > before_kg
        else:
            assert promise.taken_kg == before_kg - mass_kg >= 0
    assert promise.taken_kg + promise.returned_kg == promise.delivered_kg
