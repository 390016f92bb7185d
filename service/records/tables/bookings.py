"""Kilograms that left lots other than by delivery."""

from datetime import date, datetime
from decimal import Decimal

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent
from service.records.types import kilograms


class BookingRow(Base):
    """Kilograms that left a lot; one that was taken back stays, and counts no more."""

    __tablename__ = "booking"
    __table_args__ = (
        sa.CheckConstraint("mass_kg > 0", name="mass_positive"),
        sa.UniqueConstraint("lot_id", "code"),
    )

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(parent("lot.id"))
    code: Mapped[str]
    kind: Mapped[str]
    mass_kg: Mapped[Decimal] = mapped_column(kilograms())
    booked_on: Mapped[date]
    # A reason may name another party; the trail names the change, not the words.
    reason: Mapped[str] = mapped_column(info={"kept_back": True})
    # The lot that a step made of them, or on whose making they were lost.
    into_lot_id: Mapped[int | None] = mapped_column(parent("lot.id"), index=True)
    # The packages that went along, as [kind, count, net].
    packages: Mapped[list[list[str]] | None] = mapped_column(sa.JSON)
    made_at: Mapped[datetime]
    made_by: Mapped[str]
    taken_back_at: Mapped[datetime | None]
    taken_back_by: Mapped[str | None]
    taken_back_reason: Mapped[str | None] = mapped_column(info={"kept_back": True})
