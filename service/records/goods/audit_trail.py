"""The trail of changes: read, never written here and never altered."""

import sqlalchemy as sa

from service.market.goods.audit_trail import Change, Reading
from service.records.session import Session
from service.records.tables.goods import ChangeRow

PLAIN = ("at", "by", "act", "kind", "code", "lot_code", "grower_code", "brewery_code", "fields")


def search(
    session: Session,
    reading: Reading,
    *,
    lot_code: str | None = None,
    kind: str | None = None,
    code: str | None = None,
    after: int | None = None,
    limit: int,
) -> list[Change]:
    """Lines that the reader may see and that fit all that is named, newest first."""
    query = sa.select(ChangeRow).order_by(ChangeRow.id.desc()).limit(limit)
    if not reading.everything:
        query = query.where(_may_read(reading))
    for column, value in ((ChangeRow.lot_code, lot_code), (ChangeRow.kind, kind), (ChangeRow.code, code)):
        if value is not None:
            query = query.where(column == value)
    if after is not None:
        query = query.where(ChangeRow.id < after)
    return [
        Change(number=row.id, **{name: getattr(row, name) for name in PLAIN})
        for row in session.scalars(query)
    ]


def _may_read(reading: Reading) -> sa.ColumnElement[bool]:
    own = [
        column == code
        for column, code in (
            (ChangeRow.grower_code, reading.grower_code),
            (ChangeRow.brewery_code, reading.brewery_code),
        )
        if code is not None
    ]
    if reading.of_lot is not None:
        own.append(sa.and_(ChangeRow.lot_code == reading.of_lot, ChangeRow.brewery_code.is_(None)))
    return sa.or_(sa.false(), *own)
