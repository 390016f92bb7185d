"""Events that wait to be looked at, saved searches, and notices."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent


class OutboxRow(Base):
    """Something that happened; `handled_at` is empty until those concerned have their notices."""

    __tablename__ = "outbox"

    id: Mapped[Key]
    kind: Mapped[str]
    lot_code: Mapped[str]
    recall_code: Mapped[str | None]
    reservation_code: Mapped[str | None]
    by_side: Mapped[str | None]
    made_at: Mapped[datetime]
    handled_at: Mapped[datetime | None] = mapped_column(index=True)


class SavedSearchRow(Base):
    """A search that a brewery wants to hear about."""

    __tablename__ = "saved_search"

    id: Mapped[Key]
    code: Mapped[str] = mapped_column(unique=True)
    brewery_id: Mapped[int] = mapped_column(parent("party.id"), index=True)
    name: Mapped[str]
    filters: Mapped[dict[str, Any]] = mapped_column(sa.JSON)
    by_mail: Mapped[bool]
    made_at: Mapped[datetime]
    made_by: Mapped[str]


class NoticeRow(Base):
    """What a party is told; one for each reason it has to hear of an event."""

    __tablename__ = "notice"
    __table_args__ = (
        sa.UniqueConstraint("party_id", "outbox_id", "source"),
        sa.CheckConstraint("mail_state IN ('none', 'waiting', 'sent', 'given_up')", name="mail_state_known"),
        sa.Index(None, "mail_state", "mail_after"),
    )

    id: Mapped[Key]
    party_id: Mapped[int] = mapped_column(parent("party.id"), index=True)
    outbox_id: Mapped[int] = mapped_column(parent("outbox.id"))
    source: Mapped[str]
    subject: Mapped[str]
    words: Mapped[str]
    lot_code: Mapped[str | None]
    made_at: Mapped[datetime]
    read_at: Mapped[datetime | None]
    mail_state: Mapped[str]
    mail_tries: Mapped[int]
    mail_after: Mapped[datetime | None]
    mail_sent_at: Mapped[datetime | None]
    mail_problem: Mapped[str | None]
