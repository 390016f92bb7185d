"""Samples for the rub: every step from its state and from no other, by its side and by no other."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.errors import IllegalStep, LotOnHold, NotAllowed, NotEnoughStock, OutOfRange
from service.facts import replace
from service.market.trade.rub_samples import (
    STATES,
    RubSample,
    answer_sample,
    as_seen_from,
    decide_sample,
    give_up_sample,
    note_sample,
    receive_sample,
    require_selectable,
    require_side,
    select_sample,
    send_sample,
)
from tests.factories import NOW, TODAY, ListedLotFactory, LotFactory

LOT = ListedLotFactory(code="ALDER-2026-01")
BY = {"by": "x", "now": NOW}


def asked(**told: Any) -> RubSample:
    plain: dict[str, Any] = {"brewery_code": "FINCH", "mass_g": 200, "words": None}
    return decide_sample(LOT, **plain | told, now=NOW, made_by="brewery:FINCH")


def in_state(state: str, **told: Any) -> RubSample:
    return replace(asked(), code="FINCH-RUB-01", state=state, **told)


STEPS: dict[str, tuple[Any, tuple[str, ...], str]] = {
    "approve": (lambda s: answer_sample(s, approves=True, answer=None, **BY), ("asked",), "approved"),
    "decline": (lambda s: answer_sample(s, approves=False, answer="none", **BY), ("asked",), "declined"),
    "send": (lambda s: send_sample(s, LOT, sent_on=TODAY, **BY)[0], ("approved",), "sent"),
    "receive": (lambda s: receive_sample(s, received_on=TODAY, **BY), ("sent",), "received"),
    "note": (lambda s: note_sample(s, notes="orange peel", shared=False, **BY), ("received",), "received"),
    "select": (lambda s: select_sample(s, reservation_code="R", **BY), ("received",), "received"),
    "give up": (lambda s: give_up_sample(s, **BY), ("asked", "approved"), "given_up"),
}


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("state", STATES)
def test_each_step_leads_from_its_states_only(step: str, state: str) -> None:
    take, from_states, to_state = STEPS[step]

    if state in from_states:
        assert take(in_state(state)).state == to_state
    else:
        with pytest.raises(IllegalStep):
            take(in_state(state))


def test_sent_grams_leave_the_lot_to_the_gram() -> None:
    sample, booking = send_sample(in_state("approved"), LOT, sent_on=TODAY, **BY)

    assert (booking.mass_kg, booking.kind, sample.sent_on) == (Decimal("0.2"), "sample", TODAY)
    assert "FINCH" in booking.reason
    with pytest.raises(NotEnoughStock):
        send_sample(in_state("approved"), replace(LOT, taken_kg=Decimal("120.4")), sent_on=TODAY, **BY)
    with pytest.raises(LotOnHold):
        send_sample(in_state("approved"), replace(LOT, on_hold=True), sent_on=TODAY, **BY)


@pytest.mark.parametrize("mass_g", [0, 2001])
def test_a_sample_is_of_some_grams(mass_g: int) -> None:
    with pytest.raises(OutOfRange):
        asked(mass_g=mass_g)


def test_samples_are_of_listed_picked_lots() -> None:
    announced = ListedLotFactory(mass_kg=None, readiness="announced")
    for lot in (LotFactory(), replace(LOT, state="withdrawn"), announced):
        with pytest.raises(IllegalStep):
            decide_sample(lot, brewery_code="FINCH", mass_g=100, words=None, now=NOW, made_by="x")
    with pytest.raises(LotOnHold):
        decide_sample(
            replace(LOT, on_hold=True), brewery_code="FINCH", mass_g=100, words=None, now=NOW, made_by="x"
        )


@pytest.mark.parametrize("day", [date(2026, 11, 19), date(2026, 11, 27)])
def test_a_sample_comes_after_it_was_sent_and_not_tomorrow_week(day: date) -> None:
    with pytest.raises(OutOfRange):
        receive_sample(in_state("sent", sent_on=date(2026, 11, 20)), received_on=day, **BY)


def test_one_sample_leads_to_one_promise() -> None:
    with pytest.raises(IllegalStep, match="already"):
        require_selectable(in_state("received", reservation_code="R"))


def test_notes_are_the_brewerys_own_unless_it_shares_them() -> None:
    own = in_state("received", notes="cat and orange peel")

    assert as_seen_from(own, "brewery").notes
    assert as_seen_from(own, "grower").notes is None
    assert as_seen_from(own, None).notes is None
    assert as_seen_from(replace(own, notes_shared=True), "grower").notes


def test_each_side_takes_its_own_steps() -> None:
    require_side(asked(), "grower", wanted="grower", what="decides")
    require_side(asked(), None, wanted="grower", what="decides")
    with pytest.raises(NotAllowed):
        require_side(asked(), "brewery", wanted="grower", what="decides")
