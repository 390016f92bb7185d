"""Samples that went to a laboratory."""

from datetime import date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent


class SubmissionRow(Base):
    """One sample, and what was wanted of it."""

    __tablename__ = "submission"
    __table_args__ = (
        sa.UniqueConstraint("lot_id", "code"),
        sa.CheckConstraint("mass_g > 0", name="weighs_something"),
    )

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(parent("lot.id"))
    code: Mapped[str]
    mass_g: Mapped[int]
    sent_on: Mapped[date]
    laboratory: Mapped[str]
    tests: Mapped[list[str]] = mapped_column(sa.JSON)
    note: Mapped[str | None]
    booking_code: Mapped[str | None]
    made_at: Mapped[datetime]
    made_by: Mapped[str]
