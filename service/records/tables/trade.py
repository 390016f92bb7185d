"""The tables of promises, deliveries, recalls, samples and notices."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from service.records.tables.base import Base, Key, parent, part_of
from service.records.types import kilograms, money


class ReservationRow(Base):
    """A part of a lot promised to a brewery; whether a hold has expired is read from the clock."""

    __tablename__ = "reservation"
    __table_args__ = (
        sa.CheckConstraint("mass_kg > 0", name="mass_positive"),
        sa.CheckConstraint(
            "state IN ('offered', 'held', 'confirmed', 'delivered', 'released')", name="state_known"
        ),
        sa.CheckConstraint("state <> 'held' OR held_until IS NOT NULL", name="hold_ends"),
        sa.Index(None, "lot_id", "state", "held_until"),
        sa.Index(None, "brewery_id", "state"),
    )

    id: Mapped[Key]
    code: Mapped[str] = mapped_column(unique=True)
    lot_id: Mapped[int] = mapped_column(parent("lot.id"))
    request_id: Mapped[int | None] = mapped_column(parent("request.id"), index=True)
    brewery_id: Mapped[int] = mapped_column(parent("party.id"))
    state: Mapped[str]
    mass_kg: Mapped[Decimal] = mapped_column(kilograms())
    # Alpha acids it brings on the day its request needs it, estimated when it was made.
    alpha_kg: Mapped[float | None]
    held_until: Mapped[datetime | None]
    grower_confirmed: Mapped[bool] = mapped_column(default=False)
    brewery_confirmed: Mapped[bool] = mapped_column(default=False)
    delivered_on: Mapped[date | None]
    delivered_kg: Mapped[Decimal | None] = mapped_column(kilograms())
    # Of what was delivered and refused: what came back to the grower.
    returned_kg: Mapped[Decimal] = mapped_column(kilograms(), default=Decimal(0), server_default="0")
    made_at: Mapped[datetime]
    made_by: Mapped[str]
    changed_at: Mapped[datetime]
    changed_by: Mapped[str]


class ReceiptRow(Base):
    """What the brewery found when the hops arrived; a correction is written over it, and the trail keeps both."""

    __tablename__ = "receipt"
    __table_args__ = (
        sa.CheckConstraint(
            "accepted_kg >= 0 AND refused_kg >= 0 AND accepted_kg + refused_kg > 0", name="weighs_something"
        ),
    )

    id: Mapped[Key]
    reservation_id: Mapped[int] = mapped_column(parent("reservation.id"), unique=True)
    received_on: Mapped[date]
    packages: Mapped[list[dict[str, Any]]] = mapped_column(sa.JSON)
    accepted_kg: Mapped[Decimal] = mapped_column(kilograms())
    refused_kg: Mapped[Decimal] = mapped_column(kilograms())
    temperature_c: Mapped[float | None]
    condition: Mapped[str]
    words: Mapped[str | None]
    agreed_price_per_kg: Mapped[Decimal | None] = mapped_column(money())
    currency: Mapped[str | None]
    reason: Mapped[str | None]
    made_at: Mapped[datetime]
    made_by: Mapped[str]


class RecallRow(Base):
    """One recall."""

    __tablename__ = "recall"
    __table_args__ = (
        sa.CheckConstraint("(closed_at IS NULL) = (finding IS NULL)", name="closed_with_a_finding"),
    )

    id: Mapped[Key]
    code: Mapped[str] = mapped_column(unique=True)
    lot_id: Mapped[int] = mapped_column(parent("lot.id"), index=True)
    concern: Mapped[str]
    words: Mapped[str]
    opened_at: Mapped[datetime]
    opened_by: Mapped[str]
    closed_at: Mapped[datetime | None]
    closed_by: Mapped[str | None]
    finding: Mapped[str | None]

    lines: Mapped[list["RecallLineRow"]] = relationship(
        order_by="RecallLineRow.id", cascade="all, delete-orphan", lazy="selectin"
    )


class RecallLineRow(Base):
    """What one holder has, or was promised, of one lot."""

    __tablename__ = "recall_line"
    __table_args__ = (sa.CheckConstraint("mass_kg >= 0", name="mass_not_negative"),)

    id: Mapped[Key]
    recall_id: Mapped[int] = mapped_column(part_of("recall.id"), index=True)
    lot_id: Mapped[int] = mapped_column(parent("lot.id"))
    holder: Mapped[str] = mapped_column(index=True)
    reservation_code: Mapped[str | None]
    state: Mapped[str]
    mass_kg: Mapped[Decimal] = mapped_column(kilograms())
    packages: Mapped[list[dict[str, Any]]] = mapped_column(sa.JSON)
    acknowledged_at: Mapped[datetime | None]
    acknowledged_by: Mapped[str | None]
    left_kg: Mapped[Decimal | None] = mapped_column(kilograms())
    words: Mapped[str | None]


class RubSampleRow(Base):
    """A sample that a brewery asked for."""

    __tablename__ = "rub_sample"
    __table_args__ = (
        sa.CheckConstraint("mass_g > 0", name="weighs_something"),
        sa.Index(None, "brewery_id", "id"),
    )

    id: Mapped[Key]
    code: Mapped[str] = mapped_column(unique=True)
    lot_id: Mapped[int] = mapped_column(parent("lot.id"), index=True)
    brewery_id: Mapped[int] = mapped_column(parent("party.id"))
    state: Mapped[str]
    mass_g: Mapped[int]
    words: Mapped[str | None]
    answer: Mapped[str | None]
    sent_on: Mapped[date | None]
    received_on: Mapped[date | None]
    booking_code: Mapped[str | None]
    # The brewery's own words: the trail says that they changed, and not how.
    notes: Mapped[str | None] = mapped_column(info={"kept_back": True})
    notes_shared: Mapped[bool] = mapped_column(default=False, server_default=sa.false())
    reservation_code: Mapped[str | None]
    made_at: Mapped[datetime]
    made_by: Mapped[str]
    changed_at: Mapped[datetime]
    changed_by: Mapped[str]


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
