"""Holds on lots: search, add, change. Every one is written under the lock of its lot."""

from collections.abc import Sequence

import sqlalchemy as sa

from service.facts import replace
from service.market.goods.quality_holds import QualityHold
from service.records.goods import lots
from service.records.session import Session
from service.records.tables import LotRow, QualityHoldRow

PLAIN = (
    "code",
    "concern",
    "words",
    "recall_code",
    "placed_at",
    "placed_by",
    "lifted_at",
    "lifted_by",
    "finding",
)


def search(session: Session, lot_code: str) -> Sequence[QualityHold]:
    """All holds a lot ever had, oldest first."""
    query = _everything().where(LotRow.code == lot_code)
    return [_fact(row, code) for row, code in session.execute(query)]


def search_of_recall(session: Session, recall_code: str) -> Sequence[QualityHold]:
    """The holds that a recall placed, by lot."""
    query = _everything().where(QualityHoldRow.recall_code == recall_code)
    return [_fact(row, code) for row, code in session.execute(query)]


def add(session: Session, hold: QualityHold) -> QualityHold:
    """Keep a new hold; gives it with its code."""
    row = lots.get_row(session, hold.lot_code)
    count = session.scalar(
        sa.select(sa.func.count()).select_from(QualityHoldRow).where(QualityHoldRow.lot_id == row.id)
    )
    kept = replace(hold, code=f"H{(count or 0) + 1}")
    session.add(QualityHoldRow(lot_id=row.id, **{name: getattr(kept, name) for name in PLAIN}))
    session.flush()
    return kept


def change(session: Session, hold: QualityHold) -> None:
    """Write what changed of a hold."""
    lot = lots.get_row(session, hold.lot_code)
    query = sa.select(QualityHoldRow).where(QualityHoldRow.lot_id == lot.id, QualityHoldRow.code == hold.code)
    row = session.scalars(query).one()
    for name in PLAIN:
        setattr(row, name, getattr(hold, name))
    session.flush()


def _everything() -> sa.Select[QualityHoldRow, str]:
    return (
        sa.select(QualityHoldRow, LotRow.code)
        .join(LotRow, LotRow.id == QualityHoldRow.lot_id)
        .order_by(LotRow.code, QualityHoldRow.id)
        .execution_options(populate_existing=True)
    )


def _fact(row: QualityHoldRow, lot_code: str) -> QualityHold:
    return QualityHold(lot_code=lot_code, **{name: getattr(row, name) for name in PLAIN})
