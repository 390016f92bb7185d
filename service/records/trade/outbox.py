"""The outbox: what happened waits here until somebody tells of it."""

from collections.abc import Sequence
from datetime import datetime

import sqlalchemy as sa

from service.market.trade.notices import Event
from service.records.session import Session
from service.records.tables import Base, OutboxRow

PLAIN = ("kind", "lot_code", "recall_code", "reservation_code", "by_side", "made_at")


def add(session: Session, event: Event) -> None:
    """Write that something happened, in the transaction in which it does."""
    session.add(OutboxRow(**{name: getattr(event, name) for name in PLAIN}))
    session.flush()


def add_many(session: Session, events: Sequence[Event]) -> None:
    """Write many events in one statement."""
    if events:
        told = [{name: getattr(event, name) for name in PLAIN} for event in events]
        session.connection().execute(sa.insert(Base.metadata.tables["outbox"]), told)


def take_waiting(session: Session, *, limit: int) -> Sequence[Event]:
    """The oldest events that nobody handled, kept from others until this transaction ends."""
    query = (
        sa.select(OutboxRow)
        .where(OutboxRow.handled_at.is_(None))
        .order_by(OutboxRow.id)
        .limit(limit)
        .with_for_update(skip_locked=True)
    )
    return [
        Event(number=row.id, **{name: getattr(row, name) for name in PLAIN}) for row in session.scalars(query)
    ]


def close(session: Session, events: Sequence[Event], *, now: datetime) -> None:
    """Mark events as handled."""
    numbers = [event.number for event in events]
    session.execute(sa.update(OutboxRow).where(OutboxRow.id.in_(numbers)).values(handled_at=now))
