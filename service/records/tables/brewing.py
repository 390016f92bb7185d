"""The tables of brewing."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, parent


class UtilizationFitRow(Base):
    """One fit; its brews lie in JSON as they were told, with what the base model gave for each."""

    __tablename__ = "utilization_fit"
    __table_args__ = (
        sa.UniqueConstraint("brewery_id", "code"),
        sa.CheckConstraint("base_model IN ('tinseth', 'kinetic')", name="base_model_known"),
        sa.CheckConstraint("alpha_basis IN ('estimated', 'as_analysed')", name="alpha_basis_known"),
        sa.CheckConstraint("factor > 0 AND whirlpool_factor > 0", name="factors_positive"),
    )

    id: Mapped[Key]
    brewery_id: Mapped[int] = mapped_column(parent("party.id"))
    code: Mapped[str]
    base_model: Mapped[str]
    alpha_basis: Mapped[str]
    factor: Mapped[float]
    whirlpool_factor: Mapped[float]
    has_own_whirlpool_factor: Mapped[bool]
    left_out_error_fraction: Mapped[float]
    brews: Mapped[list[dict[str, Any]]] = mapped_column(sa.JSON)
    note: Mapped[str | None]
    made_at: Mapped[datetime]
    made_by: Mapped[str]
