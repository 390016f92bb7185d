"""Promises on lots."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent
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
        sa.CheckConstraint("net_kg > 0", name="weighs_something"),
        sa.CheckConstraint(
            "verdict IN ('accepted', 'accepted_at_agreed_price', 'refused')", name="verdict_known"
        ),
    )

    id: Mapped[Key]
    reservation_id: Mapped[int] = mapped_column(parent("reservation.id"), unique=True)
    received_on: Mapped[date]
    packages: Mapped[list[dict[str, Any]]] = mapped_column(sa.JSON)
    net_kg: Mapped[Decimal] = mapped_column(kilograms())
    temperature_c: Mapped[float | None]
    condition: Mapped[str]
    words: Mapped[str | None]
    verdict: Mapped[str]
    agreed_price_per_kg: Mapped[Decimal | None] = mapped_column(money())
    currency: Mapped[str | None]
    reason: Mapped[str | None]
    made_at: Mapped[datetime]
    made_by: Mapped[str]
