"""The tables of region-wide plans."""

from datetime import datetime
from typing import Any, cast

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from service.records.tables.base import Base, Key

ONE_RUNNING = "ix_allocation_one_running"


class AllocationRow(Base):
    """One allocation asked for, and its plan.

    At most one row is `running`: the index says so to every worker at once. A worker says every few seconds that it
    still lives (`beat_at`); one that fell silent has lost its turn.
    """

    __tablename__ = "allocation"
    __table_args__ = (
        sa.CheckConstraint("state IN ('waiting', 'running', 'done', 'failed')", name="state_known"),
        sa.CheckConstraint("state <> 'running' OR (runner IS NOT NULL AND beat_at IS NOT NULL)", name="runs"),
    )

    id: Mapped[Key]
    code: Mapped[str | None] = mapped_column(unique=True)
    state: Mapped[str]
    ordered: Mapped[dict[str, Any]] = mapped_column(sa.JSON)
    asked_at: Mapped[datetime]
    asked_by: Mapped[str]
    started_at: Mapped[datetime | None]
    finished_at: Mapped[datetime | None]
    progress: Mapped[str] = mapped_column(default="")
    problem: Mapped[str | None]
    runner: Mapped[str | None]
    beat_at: Mapped[datetime | None]
    starts: Mapped[int] = mapped_column(default=0)
    # What was planned from, as it was read; a worker that takes an allocation up plans from the same.
    region: Mapped[Any | None] = mapped_column(sa.JSON(none_as_null=True), deferred=True)
    plan: Mapped[Any | None] = mapped_column(sa.JSON(none_as_null=True), deferred=True)
    accepted_at: Mapped[datetime | None]
    accepted_by: Mapped[str | None]


def one_running() -> sa.Index:
    """The index that lets one row run, told when tables are made or compared.

    A service at work never reads it, and to name a dialect loads all of that dialect's own.
    """
    table = cast("sa.Table", AllocationRow.__table__)
    for index in table.indexes:
        if index.name == ONE_RUNNING:
            return index
    return sa.Index(
        ONE_RUNNING,
        AllocationRow.state,
        unique=True,
        sqlite_where=sa.text("state = 'running'"),
        postgresql_where=sa.text("state = 'running'"),
    )
