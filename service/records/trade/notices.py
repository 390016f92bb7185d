"""Notices: put, search, take up, change."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.errors import NotFound
from service.facts import field_names
from service.market.trade.notices import Notice
from service.records.people import parties
from service.records.session import Session
from service.records.tables import NoticeRow, OutboxRow, PartyRow

ELSEWHERE = ("number", "party", "event_number", "kind")
PLAIN = tuple(name for name in field_names(Notice) if name not in ELSEWHERE)


def put(session: Session, notice: Notice) -> bool:
    """Keep a notice, unless the party has it already; whether it was new."""
    kind, _, code = notice.party.partition(":")
    party_id = parties.get_row(session, kind, code).id
    there = sa.select(NoticeRow.id).where(
        NoticeRow.party_id == party_id,
        NoticeRow.outbox_id == notice.event_number,
        NoticeRow.source == notice.source,
    )
    if session.scalar(there) is not None:
        return False
    session.add(
        NoticeRow(
            party_id=party_id,
            outbox_id=notice.event_number,
            **{name: getattr(notice, name) for name in PLAIN},
        )
    )
    session.flush()
    return True


def get(session: Session, number: int, *, party: str | None) -> Notice:
    """One notice of a party; None: of anybody's.

    Raises:
        NotFound: that party has no such notice.

    """
    query = _everything().where(NoticeRow.id == number)
    found = session.execute(query).one_or_none()
    notice = None if found is None else _fact(found)
    if notice is None or party not in (None, notice.party):
        raise NotFound(f"there is no notice {number}")
    return notice


def search(
    session: Session, *, party: str | None, unread: bool, after: int | None, limit: int
) -> list[Notice]:
    """A party's notices (None: everybody's), newest first."""
    query = _everything().order_by(NoticeRow.id.desc()).limit(limit)
    if party is not None:
        kind, _, code = party.partition(":")
        query = query.where(PartyRow.kind == kind, PartyRow.code == code)
    if unread:
        query = query.where(NoticeRow.read_at.is_(None))
    if after is not None:
        query = query.where(NoticeRow.id < after)
    return [_fact(found) for found in session.execute(query)]


def take_due(session: Session, *, now: datetime, limit: int) -> Sequence[tuple[Notice, str | None]]:
    """Letters that are due, oldest first, each with its party's address, kept from others in this transaction."""
    query = (
        _everything()
        .add_columns(PartyRow.email)
        .where(NoticeRow.mail_state == "waiting", NoticeRow.mail_after <= now)
        .order_by(NoticeRow.id)
        .limit(limit)
        .with_for_update(skip_locked=True, of=NoticeRow)
    )
    return [(_fact(found), found.email) for found in session.execute(query)]


def change(session: Session, notice: Notice) -> None:
    """Write what changed of a notice."""
    row = session.scalars(sa.select(NoticeRow).where(NoticeRow.id == notice.number)).one()
    for name in PLAIN:
        setattr(row, name, getattr(notice, name))
    session.flush()


def _everything() -> Any:
    # A row of four columns or five: its type is longer than what it tells.
    return (
        sa.select(
            NoticeRow,
            PartyRow.kind.label("party_kind"),
            PartyRow.code.label("party_code"),
            OutboxRow.kind.label("event_kind"),
        )
        .join(PartyRow, PartyRow.id == NoticeRow.party_id)
        .join(OutboxRow, OutboxRow.id == NoticeRow.outbox_id)
        .execution_options(populate_existing=True)
    )


def _fact(found: Any) -> Notice:
    row = found.NoticeRow
    return Notice(
        number=row.id,
        party=f"{found.party_kind}:{found.party_code}",
        event_number=row.outbox_id,
        kind=found.event_kind,
        **{name: getattr(row, name) for name in PLAIN},
    )
