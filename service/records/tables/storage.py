"""The tables of storage."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key, part_of


class TemperatureLogRow(Base):
    """One logger file, summed up; never edited, at most corrected by a later one or taken back."""

    __tablename__ = "temperature_log"
    __table_args__ = (sa.UniqueConstraint("lot_id", "code"),)

    id: Mapped[Key]
    lot_id: Mapped[int] = mapped_column(part_of("lot.id"))
    code: Mapped[str]
    place: Mapped[str | None]
    file_sha256: Mapped[str]
    has_offsets: Mapped[bool]
    # The logger's own clock has no zone, so its moments are kept as they were written.
    first_reading: Mapped[str]
    last_reading: Mapped[str]
    readings: Mapped[int]
    mean_c: Mapped[float]
    coldest_c: Mapped[float]
    hottest_c: Mapped[float]
    readings_above_20_c: Mapped[int]
    days_above_20_c: Mapped[float]
    gaps_count: Mapped[int]
    gaps_hours: Mapped[float]
    gaps: Mapped[list[dict[str, Any]]] = mapped_column(sa.JSON, info={"kept_back": True})
    duplicates: Mapped[int]
    out_of_order: Mapped[int]
    rows_without_temperature_count: Mapped[int]
    rows_without_temperature: Mapped[list[int]] = mapped_column(sa.JSON)
    days: Mapped[dict[str, list[float]]] = mapped_column(sa.JSON, info={"kept_back": True})
    corrects: Mapped[str | None]
    reason: Mapped[str | None]
    corrected_by: Mapped[str | None]
    taken_back_at: Mapped[datetime | None]
    taken_back_by: Mapped[str | None]
    taken_back_reason: Mapped[str | None]
    filed_at: Mapped[datetime]
    filed_by: Mapped[str]
