from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import (
    ImpossibleReport,
    InvalidRequest,
    LotOnHold,
    NotEnoughStock,
    OutOfRange,
    UnbalancedStep,
)
from service.market.goods.lots import Step
from service.market.processing.steps import (
    GRAM,
    Input,
    apportion,
    decide_moves,
    require_balance,
    require_sampled_after,
)
from tests.factories import NOW, TODAY, LabReportFactory, LotFactory

MASS = st.decimals(GRAM, 5000, places=3)


def move(*masses: Any, out: Any, loss: Any = 0, on_hold: bool = False, **told: Any) -> Any:
    lots = [LotFactory(mass_kg=Decimal(6000), on_hold=on_hold) for _ in masses]
    inputs = [Input(lot=lot, mass_kg=Decimal(mass)) for lot, mass in zip(lots, masses, strict=True)]
    plain = {"into_code": "ALDER-2026-99", "kind": "pelletizing", "done_on": TODAY, "made_on": {}, **told}
    return decide_moves(
        inputs, out_kg=Decimal(out), loss_kg=Decimal(loss), now=NOW, made_by="grower:ALDER", **plain
    )


@given(st.lists(MASS, min_size=1, max_size=6), st.data())
def test_every_gram_that_goes_in_is_booked_as_moved_or_lost(masses: list[Decimal], data: Any) -> None:
    brought = sum(masses)
    out = data.draw(st.decimals(GRAM, brought, places=3))

    booked = move(*masses, out=out, loss=brought - out)

    assert sum(b.mass_kg for b in booked if b.kind == "moved") == out
    assert sum(b.mass_kg for b in booked) == brought
    by_lot = [sum(b.mass_kg for b in booked if b.lot_code == code) for code in {b.lot_code for b in booked}]
    assert sorted(by_lot) == sorted(masses)
    assert all(b.mass_kg > 0 for b in booked)


@given(MASS, st.lists(MASS, min_size=1, max_size=8))
def test_shares_add_up_to_the_gram_and_follow_the_weights(total: Decimal, weights: list[Decimal]) -> None:
    shares = apportion(total, weights)

    assert sum(shares) == total
    if total >= sum(weights) / 10:
        for share, weight in zip(shares, weights, strict=True):
            assert abs(share - total * weight / sum(weights)) <= len(weights) * GRAM


def test_the_smallest_giver_keeps_a_gram() -> None:
    assert apportion(Decimal("0.002"), [Decimal(1000), GRAM]) == [GRAM, GRAM]


def test_kilograms_that_appear_or_vanish_are_refused() -> None:
    with pytest.raises(UnbalancedStep, match="1 kg are not accounted for") as refused:
        move(100, out=90, loss=9)
    assert refused.value.facts["open_kg"] == 1
    with pytest.raises(UnbalancedStep, match="came from nowhere"):
        require_balance(in_kg=Decimal(100), out_kg=Decimal("100.001"), loss_kg=Decimal(0))


def test_a_step_takes_only_what_is_free_and_only_from_what_existed() -> None:
    for out in (6001, 5000):
        with pytest.raises(NotEnoughStock):
            move(6001, out=out, loss=6001 - out)
    with pytest.raises(LotOnHold):
        move(10, out=10, on_hold=True)
    with pytest.raises(OutOfRange):
        move(10, out=10, done_on=date(2026, 8, 28))
    lot = LotFactory()
    for inputs, told in (([lot, lot], {}), ([lot], {"made_on": {lot.code: date(2026, 11, 20)}})):
        parts = [Input(lot=one, mass_kg=Decimal(1)) for one in inputs]
        with pytest.raises(InvalidRequest):
            decide_moves(
                parts,
                into_code="X",
                kind="blending",
                out_kg=Decimal(len(parts)),
                loss_kg=Decimal(0),
                done_on=date(2026, 11, 19),
                now=NOW,
                made_by="grower:ALDER",
                **{"made_on": {}, **told},
            )


@pytest.mark.parametrize(
    ("kind", "refused"), [("pelletizing", True), ("blending", True), ("splitting", False), ("drying", False)]
)
def test_a_report_of_before_speaks_only_where_the_goods_are_the_same(kind: str, refused: bool) -> None:
    step = Step(lot_code="X", kind=kind, began_on=TODAY, done_on=TODAY, made_at=NOW, made_by="grower:ALDER")
    early, late = LabReportFactory(sampled_on=date(2026, 9, 3)), LabReportFactory(sampled_on=TODAY)

    require_sampled_after(late, step)
    require_sampled_after(early, None)
    if not refused:
        require_sampled_after(early, step)
        return
    with pytest.raises(ImpossibleReport):
        require_sampled_after(early, step)
