"""The tables of parties, tokens and repeated requests."""

from datetime import date, datetime
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
    last_used_on: Mapped[date | None]


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


class PartyRow(Base):
    """A grower or a brewery, its place, and the counters its codes come from."""

    __tablename__ = "party"
    __table_args__ = (
        sa.CheckConstraint("kind IN ('grower', 'brewery')", name="kind_known"),
        sa.UniqueConstraint("kind", "code"),
    )

    id: Mapped[Key]
    kind: Mapped[str]
    code: Mapped[str]
    name: Mapped[str]
    email: Mapped[str | None]
    country: Mapped[str]
    locality: Mapped[str]
    latitude_deg: Mapped[float]
    longitude_deg: Mapped[float]
    elevation_m: Mapped[float | None]
    # A grower's consent that brewers see how alike its lots are.
    shows_consistency: Mapped[bool] = mapped_column(default=False, server_default=sa.false())
    # The place as a unit vector: a dot product then orders by distance without trigonometry in SQL.
    unit_x: Mapped[float]
    unit_y: Mapped[float]
    unit_z: Mapped[float]
    things_made: Mapped[int] = mapped_column(default=0, server_default="0")
