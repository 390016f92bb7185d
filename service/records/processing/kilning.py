"""Kiln batches: search, add. Every one is made under the lock of the lot it fills."""

from collections.abc import Sequence

import sqlalchemy as sa

from service.facts import field_names, replace
from service.market.processing.kilning import KilnBatch
from service.records.goods import lots
from service.records.session import Session
from service.records.tables import KilnBatchRow, LotRow

PLAIN = tuple(name for name in field_names(KilnBatch) if name != "lot_code")


def search(session: Session, lot_code: str) -> Sequence[KilnBatch]:
    """The batches that filled a lot, oldest first."""
    query = (
        sa.select(KilnBatchRow)
        .join(LotRow, LotRow.id == KilnBatchRow.lot_id)
        .where(LotRow.code == lot_code)
        .order_by(KilnBatchRow.id)
        .execution_options(populate_existing=True)
    )
    return [
        KilnBatch(lot_code=lot_code, **{name: getattr(row, name) for name in PLAIN})
        for row in session.scalars(query)
    ]


def add(session: Session, batches: Sequence[KilnBatch], *, lot_code: str) -> list[KilnBatch]:
    """Keep new batches; gives them with their codes."""
    lot_id = lots.get_row(session, lot_code).id
    last = max((int(batch.code[1:]) for batch in search(session, lot_code)), default=0)
    kept = [replace(batch, code=f"K{last + place}") for place, batch in enumerate(batches, start=1)]
    for batch in kept:
        session.add(KilnBatchRow(lot_id=lot_id, **{name: getattr(batch, name) for name in PLAIN}))
    session.flush()
    return kept


def remove(session: Session, batch: KilnBatch) -> None:
    """Take a batch out again; the trail of changes keeps it."""
    lot_id = lots.get_row(session, batch.lot_code).id
    row = session.scalars(
        sa.select(KilnBatchRow).where(KilnBatchRow.lot_id == lot_id, KilnBatchRow.code == batch.code)
    ).one()
    session.delete(row)
    session.flush()
