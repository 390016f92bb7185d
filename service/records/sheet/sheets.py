"""Issued sheets: find, search, add."""

import sqlalchemy as sa

from service.market.sheet.sheets import IssuedSheet
from service.records.goods import lots
from service.records.session import Session
from service.records.tables import LotRow, PartyRow, SheetRow

COLUMNS = (
    LotRow.code.label("lot_code"),
    SheetRow.revision,
    SheetRow.issued_on,
    SheetRow.issued_at,
    SheetRow.issued_by,
    SheetRow.facts_sha256,
    SheetRow.file_sha256,
)


def search(session: Session, lot_code: str) -> list[IssuedSheet]:
    """Every issued revision of a lot's sheet, oldest first."""
    query = _sheets().where(LotRow.code == lot_code).order_by(SheetRow.revision)
    return [IssuedSheet(**row._mapping) for row in session.execute(query)]


def find_by_sha256(session: Session, sha256: str) -> IssuedSheet | None:
    """The newest sheet whose file or facts have that fingerprint."""
    query = (
        _sheets()
        .where(sa.or_(SheetRow.file_sha256 == sha256, SheetRow.facts_sha256 == sha256))
        .order_by(SheetRow.id.desc())
        .limit(1)
    )
    row = session.execute(query).one_or_none()
    return IssuedSheet(**row._mapping) if row else None


def find_file(session: Session, lot_code: str) -> tuple[int, bytes] | None:
    """The newest issued file of a lot, with its revision."""
    query = (
        sa.select(SheetRow.revision, SheetRow.file)
        .join(LotRow, LotRow.id == SheetRow.lot_id)
        .where(LotRow.code == lot_code)
        .order_by(SheetRow.revision.desc())
        .limit(1)
    )
    row = session.execute(query).one_or_none()
    return (row.revision, row.file) if row else None


def add(session: Session, sheet: IssuedSheet, *, file: bytes) -> None:
    """Keep an issued sheet with its file."""
    session.add(
        SheetRow(
            lot_id=lots.get_row(session, sheet.lot_code).id,
            revision=sheet.revision,
            issued_on=sheet.issued_on,
            issued_at=sheet.issued_at,
            issued_by=sheet.issued_by,
            facts_sha256=sheet.facts_sha256,
            file_sha256=sheet.file_sha256,
            file=file,
        )
    )
    session.flush()


def _sheets() -> sa.Select[str, int, object, object, str, str, str]:
    return sa.select(*COLUMNS).join(LotRow, LotRow.id == SheetRow.lot_id)


def search_lot_codes(
    session: Session, *, grower_code: str | None, state: str | None, after: str | None, limit: int
) -> list[str]:
    """The codes of one grower's lots (None: of all growers'), whose sheets are wanted."""
    query = (
        sa.select(LotRow.code)
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .order_by(LotRow.code)
        .limit(limit)
    )
    for column, value in ((PartyRow.code, grower_code), (LotRow.state, state)):
        if value is not None:
            query = query.where(column == value)
    return list(session.scalars(query if after is None else query.where(LotRow.code > after)))
