"""Declared licences: get, search, add, change. Every one is written under the lock of its grower's row."""

from collections.abc import Iterable, Mapping, Sequence

import sqlalchemy as sa

from service.errors import NotFound
from service.facts import field_names, replace
from service.market.goods.lots import Lot
from service.market.growing.licences import Licence
from service.records.people import parties
from service.records.session import Session
from service.records.tables import LicenceRow, LotRow, PartyRow

PLAIN = tuple(name for name in field_names(Licence) if name not in ("code", "grower_code"))


def get(session: Session, grower_code: str, code: str) -> Licence:
    """One declaration.

    Raises:
        NotFound: there is none of that code.

    """
    return _fact(_row(session, grower_code, code), grower_code)


def search(session: Session, grower_code: str) -> Sequence[Licence]:
    """All declarations of a grower, ended ones too, in the order they were made."""
    query = _rows().where(PartyRow.code == grower_code).order_by(LicenceRow.id)
    return [_fact(row, grower_code) for row in session.scalars(query)]


def search_of_lots(session: Session, lots: Iterable[Lot]) -> Mapping[str, Sequence[Licence]]:
    """The declarations that lots carry, by the lot's code: one statement for all."""
    codes = sorted({lot.code for lot in lots})
    query = (
        sa.select(LicenceRow, PartyRow.code, LotRow.code)
        .join(PartyRow, PartyRow.id == LicenceRow.grower_id)
        .join(
            LotRow,
            sa.and_(LotRow.grower_id == LicenceRow.grower_id, LotRow.cultivar_key == LicenceRow.cultivar_key),
        )
        .where(LotRow.code.in_(codes), LicenceRow.ended_at.is_(None))
        .order_by(LicenceRow.id)
    )
    found: dict[str, list[Licence]] = {}
    for row, grower_code, lot_code in session.execute(query) if codes else ():
        found.setdefault(lot_code, []).append(_fact(row, grower_code))
    return found


def lot_codes(session: Session, licence: Licence) -> Sequence[str]:
    """The lots that carry a declaration, in the order of codes."""
    query = (
        sa.select(LotRow.code)
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .where(PartyRow.code == licence.grower_code, LotRow.cultivar_key == licence.cultivar_key)
        .order_by(LotRow.code)
    )
    return list(session.scalars(query))


def add(session: Session, licence: Licence) -> Licence:
    """Keep a new declaration; gives it with its code."""
    grower = parties.get_row(session, "grower", licence.grower_code, lock=True)
    last = session.scalar(
        sa.select(sa.func.max(LicenceRow.number_given)).where(LicenceRow.grower_id == grower.id)
    )
    number = (last or 0) + 1
    values = {name: getattr(licence, name) for name in PLAIN}
    session.add(LicenceRow(grower_id=grower.id, number_given=number, **values))
    session.flush()
    return replace(licence, code=f"L{number}")


def change(session: Session, licence: Licence) -> None:
    """Write that a declaration was ended."""
    row = _row(session, licence.grower_code, licence.code)
    row.ended_at, row.ended_by = licence.ended_at, licence.ended_by
    session.flush()


def _rows() -> sa.Select[LicenceRow]:
    return (
        sa.select(LicenceRow)
        .join(PartyRow, PartyRow.id == LicenceRow.grower_id)
        .where(PartyRow.kind == "grower")
        .execution_options(populate_existing=True)
    )


def _row(session: Session, grower_code: str, code: str) -> LicenceRow:
    number = code[1:]
    is_ours = code[:1] == "L" and number.isascii() and number.isdigit() and len(number) < 10
    row = session.scalar(
        _rows().where(
            PartyRow.code == grower_code, LicenceRow.number_given == (int(number) if is_ours else 0)
        )
    )
    if row is None:
        raise NotFound(f"there is no licence {code} of {grower_code}")
    return row


def _fact(row: LicenceRow, grower_code: str) -> Licence:
    return Licence(code=row.code, grower_code=grower_code, **{name: getattr(row, name) for name in PLAIN})
