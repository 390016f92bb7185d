"""The tables of steps."""

from datetime import date, datetime
from decimal import Decimal

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, part_of
from service.records.types import kilograms


class StepRow(Base):
    """The step that made a lot; what went into it are the bookings that name the lot."""

    __tablename__ = "step"

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"), unique=True)
    kind: Mapped[str]
    began_on: Mapped[date]
    done_on: Mapped[date]
    processor: Mapped[str | None]
    note: Mapped[str | None]
    made_at: Mapped[datetime]
    made_by: Mapped[str]


class KilnBatchRow(Base):
    """One load of a kiln that went into a lot."""

    __tablename__ = "kiln_batch"
    __table_args__ = (
        sa.UniqueConstraint("lot_id", "code"),
        sa.CheckConstraint("dry_kg > 0 AND wet_kg > dry_kg", name="dries"),
    )

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"))
    code: Mapped[str]
    dried_on: Mapped[date]
    wet_kg: Mapped[Decimal] = mapped_column(kilograms())
    dry_kg: Mapped[Decimal] = mapped_column(kilograms())
    wet_moisture_percent: Mapped[float | None]
    dry_moisture_percent: Mapped[float | None]
    from_lot_code: Mapped[str | None]
    note: Mapped[str | None]
    made_at: Mapped[datetime]
    made_by: Mapped[str]
