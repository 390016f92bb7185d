"""Recalls, and what each holder has of them."""

from datetime import datetime
from decimal import Decimal
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from service.records.tables.base import Base, Key, parent, part_of
from service.records.types import kilograms


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
