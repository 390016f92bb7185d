"""The tables of brewing."""

from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent


class MeasuredBrewRow(Base):
    """One brew whose bitterness was measured: as it was told, with the form and alpha of its hops on that day."""

    __tablename__ = "measured_brew"
    __table_args__ = (
        sa.UniqueConstraint("brewery_id", "code"),
        sa.CheckConstraint("measured_bu > 0", name="measured_bu_positive"),
    )

    id: Mapped[Key]
    brewery_id: Mapped[int] = mapped_column(parent("party.id"))
    code: Mapped[str]
    brewed_on: Mapped[date]
    measured_bu: Mapped[float]
    told: Mapped[dict[str, Any]] = mapped_column(sa.JSON)
    hops: Mapped[list[dict[str, Any]]] = mapped_column(sa.JSON)
    note: Mapped[str | None]
    filed_at: Mapped[datetime]
    filed_by: Mapped[str]
