"""Growers and breweries."""

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key


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
