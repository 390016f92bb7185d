"""Recalls: get, search, add, change."""

from collections.abc import Sequence

import sqlalchemy as sa
from msgspec import convert, to_builtins

from service.errors import NotFound
from service.market.goods.lots import Package
from service.market.trade.recalls import Recall, RecallLine
from service.records.goods import lots
from service.records.people import parties
from service.records.session import Session
from service.records.tables import LotRow, PartyRow, RecallLineRow, RecallRow

PLAIN = ("concern", "words", "opened_at", "opened_by", "closed_at", "closed_by", "finding")
LINE = (
    "holder",
    "reservation_code",
    "state",
    "mass_kg",
    "acknowledged_at",
    "acknowledged_by",
    "left_kg",
    "words",
)


def get(session: Session, code: str, *, lock: bool = False) -> Recall:
    """One recall with all its lines; with `lock` nobody else changes it before this transaction ends.

    Raises:
        NotFound: there is none of that code.

    """
    row = _row(session, code, lock=lock)
    return _facts(session, [row])[0]


def search(
    session: Session, *, concerning: str | None, after: int | None, limit: int
) -> list[tuple[Recall, int]]:
    """Recalls newest first, each with its position; those that reach a party, or (None) all."""
    query = sa.select(RecallRow).order_by(RecallRow.id.desc()).limit(limit)
    if concerning is not None:
        kind, _, code = concerning.partition(":")
        reached = sa.select(RecallLineRow.recall_id).where(RecallLineRow.holder == concerning)
        if kind == "grower":
            of_grower = (
                sa.select(RecallLineRow.recall_id)
                .join(LotRow, LotRow.id == RecallLineRow.lot_id)
                .join(PartyRow, PartyRow.id == LotRow.grower_id)
                .where(PartyRow.code == code)
            )
            query = query.where(RecallRow.id.in_(reached) | RecallRow.id.in_(of_grower))
        else:
            query = query.where(RecallRow.id.in_(reached))
    if after is not None:
        query = query.where(RecallRow.id < after)
    rows = session.scalars(query).all()
    return list(zip(_facts(session, rows), (row.id for row in rows), strict=True))


def next_code(session: Session, grower_code: str) -> str:
    """The next code of a recall of a grower's lots."""
    return f"{grower_code}-REC-{parties.next_number(session, 'grower', grower_code):02d}"


def add(session: Session, recall: Recall) -> None:
    """Keep a new recall; its lots are locked already."""
    row = RecallRow(code=recall.code, lot_id=lots.get_row(session, recall.lot_code).id)
    for name in PLAIN:
        setattr(row, name, getattr(recall, name))
    for line in recall.lines:
        row.lines.append(
            RecallLineRow(
                lot_id=lots.get_row(session, line.lot_code).id,
                packages=to_builtins(line.packages),
                **{name: getattr(line, name) for name in LINE},
            )
        )
    session.add(row)
    session.flush()


def change(session: Session, recall: Recall) -> None:
    """Write what changed of a recall and of its lines."""
    row = _row(session, recall.code, lock=False)
    for name in PLAIN:
        setattr(row, name, getattr(recall, name))
    by_number = {line.number: line for line in recall.lines}
    for kept in row.lines:
        for name in LINE:
            setattr(kept, name, getattr(by_number[kept.id], name))
    session.flush()


def _row(session: Session, code: str, *, lock: bool) -> RecallRow:
    query = sa.select(RecallRow).where(RecallRow.code == code).execution_options(populate_existing=True)
    row = session.scalar(query.with_for_update() if lock else query)
    if row is None:
        raise NotFound(f"there is no recall {code}")
    return row


def _facts(session: Session, rows: Sequence[RecallRow]) -> list[Recall]:
    numbers = {row.lot_id for row in rows} | {line.lot_id for row in rows for line in row.lines}
    query = (
        sa.select(LotRow.id, LotRow.code, PartyRow.code)
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .where(LotRow.id.in_(numbers))
    )
    named = {number: (code, grower) for number, code, grower in session.execute(query)}
    return [_fact(row, named) for row in rows]


def _fact(row: RecallRow, named: dict[int, tuple[str, str]]) -> Recall:
    lot_code, grower_code = named[row.lot_id]
    return Recall(
        code=row.code,
        lot_code=lot_code,
        grower_code=grower_code,
        lines=tuple(_line(line, named) for line in row.lines),
        **{name: getattr(row, name) for name in PLAIN},
    )


def _line(row: RecallLineRow, named: dict[int, tuple[str, str]]) -> RecallLine:
    lot_code, grower_code = named[row.lot_id]
    return RecallLine(
        number=row.id,
        lot_code=lot_code,
        grower_code=grower_code,
        packages=convert(row.packages, tuple[Package, ...]),
        **{name: getattr(row, name) for name in LINE},
    )
