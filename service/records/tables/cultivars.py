"""Cultivars that a region adds, and what it found out about planting rights."""

from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key


class CultivarRow(Base):
    """A cultivar that the service does not ship."""

    __tablename__ = "cultivar"

    id: Mapped[Key]
    code: Mapped[str] = mapped_column(unique=True)
    denomination: Mapped[str]
    synonyms: Mapped[list[str]] = mapped_column(sa.JSON)
    role: Mapped[str]
    source: Mapped[str]
    figures: Mapped[list[dict[str, Any]]] = mapped_column(sa.JSON)


class CultivarStatusRow(Base):
    """Who may plant a cultivar in one country, as somebody found it on a day."""

    __tablename__ = "cultivar_status"
    __table_args__ = (
        sa.UniqueConstraint("cultivar_code", "country"),
        sa.CheckConstraint("status IN ('public', 'protected', 'unconfirmed')", name="status_known"),
    )

    id: Mapped[Key]
    cultivar_code: Mapped[str]
    country: Mapped[str]
    status: Mapped[str]
    source: Mapped[str]
    checked_on: Mapped[date]
