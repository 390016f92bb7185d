"""Holds: what they stop, and who lets go."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import IllegalStep, LotOnHold, NotAllowed, NotFound
from service.facts import replace
from service.market.goods.listing import decide_listing, decide_withdrawal
from service.market.goods.quality_holds import (
    QualityHold,
    after_lifting,
    decide_lifting,
    put_on_hold,
    require_not_on_hold,
)
from service.market.processing.steps import Input, decide_moves
from service.market.trade.reservations import decide_hold, decide_offer
from service.market.trade.rub_samples import decide_sample
from tests.factories import NOW, TODAY, ListedLotFactory, LotFactory


def a_hold(**told: Any) -> QualityHold:
    plain = {"code": "H1", "lot_code": "X", "concern": "mould", "words": "grey cones in box 3"}
    return QualityHold(**plain | {"placed_at": NOW, "placed_by": "grower:ALDER"} | told)


def lift(*holds: QualityHold, code: str = "H1", by: str = "grower:ALDER") -> QualityHold:
    return decide_lifting(holds, code, by=by, is_specialist=by == "specialist", finding="only dust", now=NOW)


def test_a_listed_lot_leaves_the_searches_and_a_draft_stays_a_draft() -> None:
    assert put_on_hold(ListedLotFactory()).state == "withdrawn"
    assert put_on_hold(LotFactory()).state == "draft"
    assert put_on_hold(LotFactory()).on_hold


def test_nothing_of_a_held_lot_moves() -> None:
    require_not_on_hold(ListedLotFactory())
    with pytest.raises(LotOnHold) as refused:
        require_not_on_hold(put_on_hold(ListedLotFactory(code="ALDER-2026-77")))

    assert refused.value.facts["lot_code"] == "ALDER-2026-77"


def test_a_hold_is_lifted_with_what_was_found() -> None:
    lifted = lift(a_hold())

    assert (lifted.is_open, lifted.lifted_by, lifted.finding) == (False, "grower:ALDER", "only dust")


@pytest.mark.parametrize(
    ("hold", "code", "by", "refusal"),
    [
        (a_hold(), "H2", "grower:ALDER", NotFound),
        (a_hold(lifted_at=NOW, finding="nothing"), "H1", "grower:ALDER", IllegalStep),
        (a_hold(placed_by="specialist"), "H1", "grower:ALDER", NotAllowed),
        (a_hold(placed_by="specialist", recall_code="RECALL-01"), "H1", "specialist", IllegalStep),
    ],
)
def test_a_hold_is_not_lifted(hold: QualityHold, code: str, by: str, refusal: type[Exception]) -> None:
    with pytest.raises(refusal):
        lift(hold, code=code, by=by)


def test_the_specialist_lifts_any_hold_but_a_recalls() -> None:
    assert lift(a_hold(), by="specialist").lifted_by == "specialist"


def test_a_lot_is_free_when_the_last_hold_is_lifted() -> None:
    lot = put_on_hold(ListedLotFactory())
    first, second = a_hold(), a_hold(code="H2")
    lifted = replace(first, lifted_at=NOW, finding="only dust")

    assert after_lifting(lot, [lifted, second]).on_hold
    assert not after_lifting(lot, [lifted, replace(second, lifted_at=NOW, finding="none")]).on_hold
    assert after_lifting(lot, [lifted]).state == "withdrawn"


@given(st.lists(st.sampled_from(["list", "withdraw", "hold", "lift"]), max_size=10), st.integers(1, 100))
def test_over_any_sequence_a_withdrawn_or_held_lot_offers_nothing(steps: list[str], mass: int) -> None:
    lot, holds = ListedLotFactory(mass_kg=Decimal(100)), 0
    for step in steps:
        try:
            if step == "list":
                lot = decide_listing(lot, readiness="analysed", today=TODAY)
            elif step == "withdraw":
                lot = decide_withdrawal(lot)
            elif step == "hold":
                lot, holds = put_on_hold(lot), holds + 1
            elif holds:
                holds -= 1
                lot = after_lifting(lot, [a_hold()] * holds)
        except (IllegalStep, LotOnHold):
            continue

    mass_kg = Decimal(mass)
    plain = {"brewery_code": "FINCH", "mass_kg": mass_kg, "held_until": None, "now": NOW, "made_by": "x"}
    asks = [
        lambda: decide_hold(lot, request_code=None, **plain),
        lambda: decide_offer(lot, request_code="R", **plain),
        lambda: decide_sample(lot, brewery_code="FINCH", mass_g=mass, words=None, now=NOW, made_by="x"),
    ]
    if lot.state == "listed":
        assert not lot.on_hold
        for ask in asks:
            ask()
        return
    for ask in asks:
        with pytest.raises((IllegalStep, LotOnHold)):
            ask()
    if lot.on_hold:
        with pytest.raises(LotOnHold):
            decide_moves(
                [Input(lot=lot, mass_kg=mass_kg)],
                into_code="Y",
                kind="splitting",
                out_kg=mass_kg,
                loss_kg=Decimal(0),
                done_on=TODAY,
                made_on={},
                now=NOW,
                made_by="x",
            )
