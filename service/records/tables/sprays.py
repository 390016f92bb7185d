"""Spray entries of a grower's blocks."""

from datetime import date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent


class SprayRow(Base):
    """One entry; never edited, at most marked as corrected."""

    __tablename__ = "spray"
    __table_args__ = (
        sa.UniqueConstraint("grower_id", "number"),
        sa.CheckConstraint("harvest_interval_days >= 0", name="interval_not_negative"),
        sa.Index(None, "grower_id", "block_key", "season"),
    )

    id: Mapped[Key]
    grower_id: Mapped[int] = mapped_column(parent("party.id"))
    number: Mapped[int]
    block: Mapped[str]
    block_key: Mapped[str]
    season: Mapped[int]
    product: Mapped[str]
    active_ingredient: Mapped[str]
    sprayed_on: Mapped[date]
    harvest_interval_days: Mapped[int]
    note: Mapped[str | None]
    corrects: Mapped[str | None]
    reason: Mapped[str | None]
    corrected_by: Mapped[str | None]
    entered_at: Mapped[datetime]
    entered_by: Mapped[str]

    @property
    def code(self) -> str:
        """The entry's code among its grower's."""
        return f"S{self.number}"
