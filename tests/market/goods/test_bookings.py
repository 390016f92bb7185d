from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import IllegalStep, NotEnoughStock, NotFound, OutOfRange
from service.market.goods.bookings import (
    Booking,
    booked_kg,
    decide_booking,
    decide_reweighing,
    find_booking,
    moved_kg,
    require_day_of_lot,
    take_back,
)
from tests.factories import NOW, TODAY, LotFactory

GRAM = Decimal("0.001")


def book(lot: Any = None, **told: Any) -> Booking:
    plain = {"kind": "sample", "mass_kg": Decimal("0.5"), "booked_on": TODAY, "reason": "to the laboratory"}
    return decide_booking(lot or LotFactory(), now=NOW, made_by="grower:ALDER", **{**plain, **told})


@given(st.decimals(GRAM, 500, places=3), st.decimals(0, 60, places=3), st.decimals(0, 60, places=3))
def test_only_free_kilograms_leave_a_lot(mass_kg: Decimal, taken_kg: Decimal, held_kg: Decimal) -> None:
    lot = LotFactory(mass_kg=Decimal("120.5"), taken_kg=taken_kg, held_kg=held_kg)

    if mass_kg <= Decimal("120.5") - taken_kg - held_kg:
        assert book(lot, mass_kg=mass_kg).mass_kg == mass_kg
        return
    with pytest.raises(NotEnoughStock) as refused:
        book(lot, mass_kg=mass_kg)
    assert refused.value.facts["free_kg"] == lot.free_kg


def test_what_cannot_be_booked_is_refused_with_the_reason() -> None:
    with pytest.raises(IllegalStep, match="was not weighed yet"):
        book(LotFactory(mass_kg=None, expected_kg=Decimal(80)))
    with pytest.raises(OutOfRange, match="over 0"):
        book(mass_kg=Decimal(0))
    for day in (date(2026, 8, 28), TODAY + timedelta(days=2)):
        with pytest.raises(OutOfRange, match="booked_on must be 2026-08-29"):
            book(booked_on=day)


def test_a_reweighing_books_what_is_missing_and_never_a_gain() -> None:
    plain = {"booked_on": TODAY, "reason": "yearly count", "now": NOW, "made_by": "grower:ALDER"}
    lot = LotFactory(mass_kg=Decimal(100), taken_kg=Decimal(30))

    lost = decide_reweighing(lot, on_hand_kg=Decimal(80), weighed_kg=Decimal("78.4"), **plain)

    assert (lost.kind, lost.mass_kg) == ("reweighing_loss", Decimal("1.6"))
    for weighed in (Decimal(80), Decimal("80.001")):
        with pytest.raises(OutOfRange, match="only a loss is booked"):
            decide_reweighing(lot, on_hand_kg=Decimal(80), weighed_kg=weighed, **plain)
    # Promised kilograms cannot be booked away: 70 are free, 75 are missing.
    with pytest.raises(NotEnoughStock):
        decide_reweighing(lot, on_hand_kg=Decimal(80), weighed_kg=Decimal(5), **plain)


def test_a_booking_is_taken_back_once_and_then_counts_no_more() -> None:
    booking = book()

    gone = take_back(booking, reason="50 g, not 500", now=NOW, by="grower:ALDER")

    assert (booking.counts, gone.counts) == (True, False)
    assert booked_kg([booking, gone, book(mass_kg=Decimal(2))]) == Decimal("2.5")
    assert moved_kg([booking, book(kind="moved", mass_kg=Decimal(2))]) == Decimal(2)
    with pytest.raises(IllegalStep, match="taken back already"):
        take_back(gone, reason="again", now=NOW, by="grower:ALDER")
    with pytest.raises(IllegalStep, match="only with that lot"):
        take_back(book(into_lot_code="ALDER-2026-09"), reason="no", now=NOW, by="grower:ALDER")


def test_a_booking_is_found_by_its_code() -> None:
    with pytest.raises(NotFound, match="no booking B2"):
        find_booking([book()], "B2")


def test_a_day_of_a_lot_lies_between_picking_and_tomorrow() -> None:
    lot = LotFactory()

    for day in (date(2026, 8, 29), TODAY + timedelta(days=1)):
        require_day_of_lot(lot, day, name="done_on", today=TODAY)
    with pytest.raises(OutOfRange):
        require_day_of_lot(lot, date(2026, 8, 28), name="done_on", today=TODAY)
