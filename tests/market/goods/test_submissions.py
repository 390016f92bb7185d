"""Samples for a laboratory: booked to the gram, with what is wanted of them."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.errors import IllegalStep, InvalidRequest, NotEnoughStock, OutOfRange
from service.facts import replace
from service.market.goods.bookings import Booking
from service.market.goods.submissions import Submission, decide_submission
from tests.factories import NOW, TODAY, LotFactory

LOT = LotFactory(code="ALDER-2026-01")


def decide(**told: Any) -> tuple[Submission, Booking]:
    plain: dict[str, Any] = {
        "mass_g": 150,
        "sent_on": TODAY,
        "laboratory": "Quarry Lane",
        "tests": ("moisture", "alpha_beta"),
        "note": None,
        "now": NOW,
        "made_by": "grower:ALDER",
    }
    return decide_submission(told.pop("lot", LOT), **plain | told)


def test_the_grams_leave_the_lot_as_a_sample() -> None:
    sent, booking = decide()

    assert (sent.mass_g, sent.tests) == (150, ("moisture", "alpha_beta"))
    assert (booking.kind, booking.mass_kg, booking.booked_on) == ("sample", Decimal("0.15"), TODAY)
    assert "Quarry Lane" in booking.reason


@pytest.mark.parametrize(
    ("told", "refusal"),
    [
        ({"mass_g": 0}, OutOfRange),
        ({"mass_g": 5001}, OutOfRange),
        ({"sent_on": date(2026, 8, 1)}, OutOfRange),
        ({"sent_on": date(2026, 12, 24)}, OutOfRange),
        ({"tests": ()}, InvalidRequest),
        ({"tests": ("oil", "oil")}, InvalidRequest),
        ({"lot": replace(LOT, mass_kg=None)}, IllegalStep),
        ({"lot": replace(LOT, taken_kg=Decimal("120.4"))}, NotEnoughStock),
    ],
)
def test_what_cannot_be_sent_is_refused(told: dict[str, Any], refusal: type[Exception]) -> None:
    with pytest.raises(refusal):
        decide(**told)
