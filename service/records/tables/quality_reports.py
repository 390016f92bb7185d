"""Physical quality of lots, and the classes into which cones are sorted."""

from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, part_of


class QualityReportRow(Base):
    """A report as it was written; never edited, at most marked as corrected."""

    __tablename__ = "quality_report"
    __table_args__ = (sa.UniqueConstraint("lot_id", "code"),)

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"))
    code: Mapped[str]
    measured_by: Mapped[str]
    drawn_by: Mapped[str]
    sampled_on: Mapped[date]
    method_note: Mapped[str | None]
    sample_g: Mapped[float | None]
    seeds_g: Mapped[float | None]
    leaf_and_stem_g: Mapped[float | None]
    waste_g: Mapped[float | None]
    seed_percent: Mapped[float | None]
    leaf_and_stem_percent: Mapped[float | None]
    waste_percent: Mapped[float | None]
    # Code, name and grams of each class, as the classes were called that day.
    cones: Mapped[list[list[Any]]] = mapped_column(sa.JSON)
    cones_counted: Mapped[int | None]
    carried_from: Mapped[str | None] = mapped_column(index=True)
    corrects: Mapped[str | None]
    reason: Mapped[str | None]
    corrected_by: Mapped[str | None]
    filed_at: Mapped[datetime]
    filed_by: Mapped[str]


class ConeClassesRow(Base):
    """The classes that the specialist set; the newest row stands."""

    __tablename__ = "cone_classes"

    id: Mapped[Key]
    classes: Mapped[list[list[str]]] = mapped_column(sa.JSON)
    set_at: Mapped[datetime]
    set_by: Mapped[str]
