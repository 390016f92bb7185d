"""Holds on lots."""

from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent


class QualityHoldRow(Base):
    """One concern about a lot, open until it is lifted."""

    __tablename__ = "quality_hold"
    __table_args__ = (
        sa.UniqueConstraint("lot_id", "code"),
        sa.CheckConstraint("(lifted_at IS NULL) = (finding IS NULL)", name="lifted_with_a_finding"),
    )

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(parent("lot.id"))
    code: Mapped[str]
    concern: Mapped[str]
    words: Mapped[str]
    recall_code: Mapped[str | None] = mapped_column(index=True)
    placed_at: Mapped[datetime]
    placed_by: Mapped[str]
    lifted_at: Mapped[datetime | None]
    lifted_by: Mapped[str | None]
    finding: Mapped[str | None]
