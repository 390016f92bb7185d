"""The tables of issued sheets."""

from datetime import date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent


class SheetRow(Base):
    """One issued revision of a lot's spec sheet."""

    __tablename__ = "sheet"
    __table_args__ = (sa.UniqueConstraint("lot_id", "revision"),)

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(parent("lot.id"))
    revision: Mapped[int]
    issued_on: Mapped[date]
    issued_at: Mapped[datetime]
    issued_by: Mapped[str]
    facts_sha256: Mapped[str] = mapped_column(index=True)
    file_sha256: Mapped[str] = mapped_column(index=True)
    file: Mapped[bytes] = mapped_column(sa.LargeBinary)
