"""The tables of requests."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent
from service.records.types import kilograms, money


class RequestRow(Base):
    """One request; lists of wishes lie in JSON, what the database filters by lies in columns."""

    __tablename__ = "request"
    __table_args__ = (
        sa.CheckConstraint("state IN ('open', 'filled', 'withdrawn')", name="state_known"),
        sa.Index(None, "state", "last_needed_on"),
        sa.Index(None, "brewery_id", "state"),
    )

    id: Mapped[Key]
    code: Mapped[str] = mapped_column(unique=True)
    brewery_id: Mapped[int] = mapped_column(parent("party.id"))
    state: Mapped[str]
    role: Mapped[str]
    role_strict: Mapped[bool]
    firmness: Mapped[str]
    cultivars: Mapped[list[str]] = mapped_column(sa.JSON)
    accept_others: Mapped[bool]
    forms: Mapped[list[str]] = mapped_column(sa.JSON)
    packings: Mapped[list[str]] = mapped_column(sa.JSON)
    certifications: Mapped[list[str]] = mapped_column(sa.JSON)
    origins: Mapped[list[str]] = mapped_column(sa.JSON)
    # Each delivery: needed_on, and mass_kg or alpha_kg (as text, exact), or a bitterness target.
    deliveries: Mapped[list[dict[str, Any]]] = mapped_column(sa.JSON)
    last_needed_on: Mapped[date]
    alpha_percent_min: Mapped[float | None]
    alpha_percent_max: Mapped[float | None]
    hop_storage_index_max: Mapped[float | None]
    moisture_percent_max: Mapped[float | None]
    oil_ml_per_100g_min: Mapped[float | None]
    kept_from: Mapped[date | None]
    kept_at_c: Mapped[float | None]
    kept_packing: Mapped[str | None]
    within_km: Mapped[float | None]
    price_per_kg_max: Mapped[Decimal | None] = mapped_column(money())
    price_per_kg_alpha_max: Mapped[Decimal | None] = mapped_column(money())
    currency: Mapped[str | None]
    lots_max: Mapped[int | None]
    parcel_kg_min: Mapped[Decimal | None] = mapped_column(kilograms())
    weights: Mapped[dict[str, float]] = mapped_column(sa.JSON)
    # Whose oil profile is wished for; at most one of the two.
    oil_like_cultivar: Mapped[str | None]
    oil_like_lot_code: Mapped[str | None]
    # Told of every lot that meets it, filled or not, until its last day.
    standing: Mapped[bool] = mapped_column(default=False, server_default=sa.false())
    note: Mapped[str | None]
    made_at: Mapped[datetime]
    made_by: Mapped[str]
