"""Certificate files beside lab reports."""

from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, part_of


class CertificateFileRow(Base):
    """One file; `content` is empty where a directory keeps it under its digest."""

    __tablename__ = "certificate_file"
    __table_args__ = (
        sa.UniqueConstraint("lot_id", "report_code", "sha256"),
        sa.CheckConstraint("kind IN ('pdf', 'png', 'jpeg')", name="kind_known"),
    )

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"))
    report_code: Mapped[str]
    sha256: Mapped[str]
    kind: Mapped[str]
    size_bytes: Mapped[int]
    content: Mapped[bytes | None] = mapped_column(sa.LargeBinary)
    added_at: Mapped[datetime]
    added_by: Mapped[str]
