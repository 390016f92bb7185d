"""Tokens, and the answers kept for repeated requests."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent


class TokenRow(Base):
    """A token: only its SHA-256 is kept."""

    __tablename__ = "token"
    __table_args__ = (
        sa.CheckConstraint("role IN ('grower', 'brewery', 'specialist')", name="role_known"),
        sa.CheckConstraint("(role = 'specialist') = (party_id IS NULL)", name="role_fits_party"),
    )

    id: Mapped[Key]
    sha256: Mapped[str] = mapped_column(unique=True)
    role: Mapped[str]
    party_id: Mapped[int | None] = mapped_column(parent("party.id"), index=True)
    label: Mapped[str | None]
    made_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]


class IdempotencyRow(Base):
    """The first answer to a request that may be sent again."""

    __tablename__ = "idempotency"
    __table_args__ = (sa.UniqueConstraint("token_id", "path", "key"),)

    id: Mapped[Key]
    token_id: Mapped[int] = mapped_column(parent("token.id"))
    path: Mapped[str]
    key: Mapped[str]
    body_sha256: Mapped[str]
    status: Mapped[int]
    headers: Mapped[dict[str, Any]] = mapped_column(sa.JSON)
    answer: Mapped[str]
    made_at: Mapped[datetime] = mapped_column(index=True)
