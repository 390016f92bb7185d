"""Samples for the rub."""

from datetime import date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent


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
