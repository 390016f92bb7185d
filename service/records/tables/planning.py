"""The tables of region-wide plans."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key


class AllocationRow(Base):
    """A plan of the region, what was asked for, and who accepted it."""

    __tablename__ = "allocation"

    id: Mapped[Key]
    code: Mapped[str | None] = mapped_column(unique=True)
    ordered: Mapped[dict[str, Any]] = mapped_column(sa.JSON)
    asked_at: Mapped[datetime]
    asked_by: Mapped[str]
    plan: Mapped[Any] = mapped_column(sa.JSON, deferred=True)
    accepted_at: Mapped[datetime | None]
    accepted_by: Mapped[str | None]
