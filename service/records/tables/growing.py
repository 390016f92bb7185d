"""The tables of the yard."""

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


class LicenceRow(Base):
    """One declaration; never edited, at most ended."""

    __tablename__ = "licence"
    __table_args__ = (
        sa.UniqueConstraint("grower_id", "number_given"),
        sa.Index(None, "grower_id", "cultivar_key"),
    )

    id: Mapped[Key]
    grower_id: Mapped[int] = mapped_column(parent("party.id"))
    # Counted within the grower: the code is L and this number.
    number_given: Mapped[int]
    cultivar: Mapped[str]
    cultivar_key: Mapped[str]
    licensor: Mapped[str]
    number: Mapped[str]
    valid_until: Mapped[date | None]
    declared_at: Mapped[datetime]
    declared_by: Mapped[str]
    ended_at: Mapped[datetime | None]
    ended_by: Mapped[str | None]

    @property
    def code(self) -> str:
        """The declaration's code among its grower's."""
        return f"L{self.number_given}"
