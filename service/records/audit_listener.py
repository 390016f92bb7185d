"""Writes the audit trail: a listener on every flush adds a line for each row made, changed or removed.

A use case can forget to write a line; a flush cannot. Triggers refuse to change or remove a line. What is
written past the session must add its own. Columns with `info={"kept_back": True}` are named without their
values. It costs each write one or two look-ups and one insert.
"""

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from service.market.goods.audit_trail import HOUSE, Signature
from service.records.tables import Base, LotRow, PartyRow, RequestRow, ReservationRow
from service.records.tables.goods import ChangeRow

SIGNED = "signed"
# Tables that hold no record of a party or a lot, so that nobody asks who changed them.
LEFT_OUT = frozenset({"change", "idempotency", "outbox", "notice"})
# Figures the search keeps of others, counters, and what nobody shall read.
SILENT_PREFIXES = ("search_", "unit_", "sha256")
SILENT = frozenset({"id", "things_made", "cultivar_key", "block_key", "scheme_key", "number_given", "file"})


def keep_changes(session: Session, _flush_context: object) -> None:
    """Write a line for every row that this flush made, changed or removed."""
    touched = [
        (act, row, fields)
        for act, rows in (("made", session.new), ("changed", session.dirty), ("removed", session.deleted))
        for row in rows
        if isinstance(row, Base) and row.__tablename__ not in LEFT_OUT
        if (fields := dict(_fields(row, act)))
    ]
    if not touched:
        return
    signed = session.info.get(SIGNED)
    by = signed.by if isinstance(signed, Signature) else HOUSE
    at = signed.at if isinstance(signed, Signature) else sa.func.current_timestamp()
    about = _About(session)
    lines = [
        {"at": at, "by": by, "act": act, "kind": row.__tablename__, "fields": fields, **about.parties_of(row)}
        for act, row, fields in touched
    ]
    insert = sa.insert(ChangeRow)
    if isinstance(at, datetime):
        session.connection().execute(insert, lines)
        return
    for line in lines:
        session.connection().execute(insert.values(line))


def _fields(row: Base, act: str) -> Iterator[tuple[str, Any]]:
    """Before and after of each column that changed."""
    state = sa.inspect(row)
    for column in state.mapper.columns:
        name = column.key
        if name in SILENT or name.startswith(SILENT_PREFIXES) or name.endswith("_id"):
            continue
        if isinstance(column.type, sa.LargeBinary):
            continue
        if act == "changed":
            history = state.attrs[name].history
            if not history.has_changes():
                continue
            before = history.deleted[0] if history.deleted else None
            after = history.added[0] if history.added else None
        else:
            value = getattr(row, name)
            before, after = (None, value) if act == "made" else (value, None)
        if before is None and after is None:
            continue
        yield name, None if column.info.get("kept_back") else [_plain(before), _plain(after)]


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, date | datetime):
        return value.isoformat()
    return value


def _id(row: Any, name: str) -> int | None:
    number: int | None = getattr(row, name, None)
    return number


class _About:
    """Whose record a row is; each party and lot is looked up once in a flush."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.parties: dict[int, tuple[str, str]] = {}
        # What goes with its whole is asked for after both are gone.
        gone = [row for row in session.deleted if isinstance(row, LotRow)]
        self.lots = {row.id: (row.code, row.grower_id) for row in gone}

    def parties_of(self, row: Any) -> dict[str, str | None]:
        found: dict[str, str | None] = dict.fromkeys(("lot_code", "grower_code", "brewery_code"))
        found["code"] = getattr(row, "code", None)
        if isinstance(row, PartyRow):
            found[f"{row.kind}_code"] = row.code
        lot_id, owners = self._references(row)
        if isinstance(row, LotRow):
            found["lot_code"] = row.code
        if lot_id is not None:
            found["lot_code"], grower_id = self._lot(lot_id)
            owners.append(grower_id)
        for kind, code in map(self._party, owners):
            found[f"{kind}_code"] = code
        for named in ("filed_for", "holder"):
            party = getattr(row, named, None)
            if party is not None and party.startswith("brewery:"):
                found["brewery_code"] = party.removeprefix("brewery:")
        return found

    def _references(self, row: Any) -> tuple[int | None, list[int]]:
        """The lot a row hangs on, and the parties; a row that hangs on a promise or a request is theirs."""
        lot_id = getattr(row, "lot_id", None)
        owners = [getattr(row, name, None) for name in ("grower_id", "brewery_id", "party_id")]
        promise = self.session.get(ReservationRow, number) if (number := _id(row, "reservation_id")) else None
        request = self.session.get(RequestRow, number) if (number := _id(row, "request_id")) else None
        if promise is not None and lot_id is None:
            lot_id = promise.lot_id
        owners += [above.brewery_id for above in (promise, request) if above is not None]
        return lot_id, [owner for owner in owners if owner is not None]

    def _party(self, number: int) -> tuple[str, str]:
        if number not in self.parties:
            found = self.session.connection().execute(
                sa.select(PartyRow.kind, PartyRow.code).where(PartyRow.id == number)
            )
            kind, code = found.one()
            self.parties[number] = (kind, code)
        return self.parties[number]

    def _lot(self, number: int) -> tuple[str, int]:
        if number not in self.lots:
            found = self.session.connection().execute(
                sa.select(LotRow.code, LotRow.grower_id).where(LotRow.id == number)
            )
            code, grower_id = found.one()
            self.lots[number] = (code, grower_id)
        return self.lots[number]
