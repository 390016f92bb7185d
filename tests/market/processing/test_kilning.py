from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.errors import (
    FixedByListing,
    IllegalStep,
    InvalidRequest,
    NotFound,
    OutOfRange,
    UnbalancedStep,
    UnfitGoods,
)
from service.market.processing.kilning import KilnBatch, bookings_of_batch, empty_of, fill_lot
from service.market.processing.steps import Input, decide_moves
from tests.factories import NOW, TODAY, LotFactory


def batch(wet: Any = 400, dry: Any = 96, **told: Any) -> KilnBatch:
    plain = {"lot_code": "L", "dried_on": date(2026, 8, 30), "made_at": NOW, "made_by": "grower:ALDER"}
    return KilnBatch(wet_kg=Decimal(wet), dry_kg=Decimal(dry), **{**plain, **told})


def fill(*new: KilnBatch, before: Any = (), **told: Any) -> Any:
    return fill_lot(LotFactory(**{"mass_kg": None, **told}), before=before, new=new, today=TODAY)


def test_a_lot_weighs_what_came_out_of_the_kiln() -> None:
    assert fill(batch(), batch(200, "47.5")).mass_kg == Decimal("143.5")
    assert fill(batch(), before=[batch()], mass_kg=Decimal(96)).mass_kg == 192
    assert batch().loss_kg == 304


def test_dry_matter_is_accounted_for_by_both_moistures() -> None:
    told = {"wet_moisture_percent": 78.0, "dry_moisture_percent": 9.0}

    # 400 kg at 78 % hold 88 kg dry matter; 96 kg at 9 % hold 87.36 kg.
    assert batch(**told).dry_matter_left_percent == pytest.approx(100 * 87.36 / 88)
    assert batch(wet_moisture_percent=78.0).dry_matter_left_percent is None


def test_batches_that_cannot_be_are_refused() -> None:
    with pytest.raises(UnbalancedStep, match="nothing was dried"):
        fill(batch(90, 90))
    with pytest.raises(InvalidRequest, match="cannot rise"):
        fill(batch(wet_moisture_percent=9.0, dry_moisture_percent=9.5))
    with pytest.raises(OutOfRange, match="batches/1/dried_on"):
        fill(batch(), batch(dried_on=date(2026, 8, 1)))
    with pytest.raises(UnfitGoods):
        fill(batch(), form="pellet")
    with pytest.raises(IllegalStep, match="take it out"):
        fill(batch(), mass_kg=Decimal(100))
    with pytest.raises(FixedByListing, match="send the batches together"):
        fill(batch(), expected_kg=Decimal(200), held_kg=Decimal(97))


def test_a_batch_is_taken_out_unless_its_kilograms_are_promised() -> None:
    two = [batch(code="K1"), batch(200, 50, code="K2")]

    assert empty_of(LotFactory(mass_kg=Decimal(146)), before=two, code="K2")[0].mass_kg == 96
    assert empty_of(LotFactory(mass_kg=Decimal(96)), before=two[:1], code="K1")[0].mass_kg is None
    with pytest.raises(NotFound):
        empty_of(LotFactory(), before=two, code="K3")
    with pytest.raises(FixedByListing):
        empty_of(LotFactory(held_kg=Decimal(97)), before=two, code="K2")


def test_of_twin_batches_one_gives_its_bookings_back() -> None:
    wet = LotFactory(form="wet_hop", mass_kg=Decimal(1000))
    moves = decide_moves(
        [Input(lot=wet, mass_kg=Decimal(400))],
        into_code="L",
        kind="drying",
        out_kg=Decimal(96),
        loss_kg=Decimal(304),
        done_on=date(2026, 8, 30),
        made_on={},
        now=NOW,
        made_by="grower:ALDER",
    )

    found = bookings_of_batch([*moves, *moves], batch(from_lot_code=wet.code))

    assert [(b.kind, b.mass_kg) for b in found] == [("moved", 96), ("drying_loss", 304)]
