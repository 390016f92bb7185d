"""Recalls: who holds what, who answers, who sees it."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.errors import IllegalStep, NotAllowed, NotFound, OutOfRange
from service.facts import replace
from service.market.people.access import Caller
from service.market.trade.recalls import (
    Recall,
    RecallLine,
    as_seen_by,
    decide_acknowledgement,
    decide_closing,
    holders_of,
)
from service.market.trade.reservations import Reservation
from tests.factories import NOW, LotFactory

FINCH, TEAL = Caller("brewery", "FINCH"), Caller("brewery", "TEAL")


def a_promise(code: str, state: str, mass_kg: int, **told: Any) -> Reservation:
    plain: dict[str, Any] = {
        "lot_code": "A",
        "grower_code": "ALDER",
        "brewery_code": "FINCH",
        "made_at": NOW,
        "made_by": "brewery:FINCH",
        "changed_at": NOW,
        "changed_by": "brewery:FINCH",
    }
    return Reservation(code=code, state=state, mass_kg=Decimal(mass_kg), **plain | told)


def a_line(number: int, holder: str, mass_kg: int, **told: Any) -> RecallLine:
    plain = {"lot_code": "A", "grower_code": "ALDER", "state": "delivered"} | told
    return RecallLine(number=number, holder=holder, mass_kg=Decimal(mass_kg), **plain)


RECALL = Recall(
    code="ALDER-REC-01",
    lot_code="A",
    grower_code="ALDER",
    concern="foreign_matter",
    words="wire from the trellis; do not use",
    opened_at=NOW,
    opened_by="grower:ALDER",
    lines=(
        a_line(1, "grower:ALDER", 40, state="in_stock"),
        a_line(2, "brewery:FINCH", 20),
        a_line(3, "brewery:FINCH", 5, state="held"),
        a_line(4, "grower:ROWAN", 30, lot_code="R", grower_code="ROWAN", state="in_stock"),
        a_line(5, "brewery:TEAL", 10, lot_code="R", grower_code="ROWAN"),
    ),
)


def test_every_kilogram_that_is_somewhere_has_a_holder() -> None:
    lot = LotFactory(code="A", mass_kg=Decimal(100), taken_kg=Decimal(62), held_kg=Decimal(8))
    promises = [
        a_promise("R1", "delivered", 20, delivered_kg=Decimal("19.5")),
        a_promise("R2", "confirmed", 30),
        a_promise("R3", "held", 8, held_until=NOW + timedelta(days=1)),
        a_promise("R4", "held", 9, held_until=NOW - timedelta(days=1)),
        a_promise("R5", "offered", 10),
    ]

    lines = list(holders_of({"A": lot}, promises, counted={}, now=NOW))

    stock, *rest = lines
    assert (stock.holder, stock.state, stock.mass_kg) == ("grower:ALDER", "in_stock", Decimal(68))
    assert [(line.reservation_code, line.state, line.mass_kg) for line in rest] == [
        ("R1", "delivered", Decimal("19.5")),
        ("R2", "confirmed", Decimal(30)),
        ("R3", "held", Decimal(8)),
    ]


def test_what_came_back_is_held_by_the_grower_alone() -> None:
    lot = LotFactory(code="A", mass_kg=Decimal(100), taken_kg=Decimal(12))
    promises = [
        a_promise("R1", "delivered", 20, delivered_kg=Decimal(20), returned_kg=Decimal(8)),
        a_promise("R2", "delivered", 5, delivered_kg=Decimal(5), returned_kg=Decimal(5)),
    ]

    stock, *rest = holders_of({"A": lot}, promises, counted={}, now=NOW)

    assert [(line.reservation_code, line.mass_kg) for line in rest] == [("R1", Decimal(12))]
    assert stock.mass_kg + rest[0].mass_kg == Decimal(100)


def test_a_holder_answers_for_all_its_lines_at_once() -> None:
    answered = decide_acknowledgement(
        RECALL, holder="brewery:FINCH", left_kg=Decimal(12), words="13 kg brewed", by=FINCH.name, now=NOW
    )

    assert [line.acknowledged_at for line in answered.lines] == [None, NOW, NOW, None, None]
    assert [line.left_kg for line in answered.lines] == [None, Decimal(12), None, None, None]
    assert answered.unanswered == 3


@pytest.mark.parametrize(
    ("recall", "told", "refusal"),
    [
        (RECALL, {"holder": "brewery:WREN"}, NotFound),
        (RECALL, {"left_kg": Decimal("25.001")}, OutOfRange),
        (replace(RECALL, closed_at=NOW, finding="x"), {}, IllegalStep),
        (replace(RECALL, lines=(replace(RECALL.lines[1], acknowledged_at=NOW),)), {}, IllegalStep),
    ],
)
def test_an_answer_is_refused(recall: Recall, told: dict[str, Any], refusal: type[Exception]) -> None:
    plain = {"holder": "brewery:FINCH", "left_kg": None, "words": None, "by": "brewery:FINCH", "now": NOW}

    with pytest.raises(refusal):
        decide_acknowledgement(recall, **plain | told)


def test_who_opened_it_or_the_specialist_closes_it_once() -> None:
    closed = decide_closing(RECALL, caller=Caller("grower", "ALDER"), finding="the magnet caught it", now=NOW)

    assert (closed.is_open, closed.finding) == (False, "the magnet caught it")
    assert decide_closing(RECALL, caller=Caller("specialist"), finding="x", now=NOW).closed_by
    with pytest.raises(NotAllowed):
        decide_closing(RECALL, caller=Caller("grower", "ROWAN"), finding="x", now=NOW)
    with pytest.raises(IllegalStep):
        decide_closing(closed, caller=Caller("specialist"), finding="x", now=NOW)


@pytest.mark.parametrize(
    ("who", "numbers", "elsewhere"),
    [
        (Caller("specialist"), [1, 2, 3, 4, 5], 0),
        (Caller("grower", "ALDER"), [1, 2, 3], 2),
        (Caller("grower", "ROWAN"), [4, 5], 0),
        (FINCH, [2, 3], 0),
        (TEAL, [5], 0),
    ],
)
def test_each_sees_its_own_lines(who: Caller, numbers: list[int], elsewhere: int) -> None:
    seen = as_seen_by(RECALL, who)

    assert [line.number for line in seen.lines] == numbers
    assert seen.elsewhere == elsewhere


def test_whom_it_does_not_concern_learns_nothing() -> None:
    with pytest.raises(NotFound):
        as_seen_by(RECALL, Caller("brewery", "WREN"))
