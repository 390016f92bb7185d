"""Allocations: get, search, add, and the turn of the one worker that works on one of them."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import undefer

from service.errors import NotFound
from service.facts import Fact
from service.market.planning.allocation_region import Region
from service.market.planning.allocations import Allocation, AllocationOrder, AllocationPlan
from service.records.kept_facts import keep, recall
from service.records.session import Session
from service.records.tables import AllocationRow

PLAIN = (
    "state",
    "asked_at",
    "asked_by",
    "started_at",
    "finished_at",
    "progress",
    "problem",
    "accepted_at",
    "accepted_by",
)
# A worker that has not said for so long that it lives has lost its turn.
SILENT_FOR = timedelta(seconds=30)
READING = "reading what is wanted and what is free"
# An allocation under which so many workers died is given up.
STARTS_MAX = 3


class Turn(Fact, frozen=True, kw_only=True):
    """A worker's turn at one allocation."""

    code: str
    runner: str
    order: AllocationOrder


def get(session: Session, code: str, *, lock: bool = False) -> Allocation:
    """One allocation with its plan.

    Raises:
        NotFound: there is none of that code.

    """
    query = sa.select(AllocationRow).where(AllocationRow.code == code).options(undefer(AllocationRow.plan))
    row = session.scalar(query.with_for_update() if lock else query)
    if row is None:
        raise NotFound(f"there is no allocation {code}")
    return _fact(row, plan=row.plan)


def search(session: Session, *, after: int | None, limit: int) -> Sequence[tuple[Allocation, int]]:
    """Allocations without their plans, newest first, each with its position."""
    query = sa.select(AllocationRow).order_by(AllocationRow.id.desc()).limit(limit)
    if after is not None:
        query = query.where(AllocationRow.id < after)
    return [(_fact(row, plan=None), row.id) for row in session.scalars(query)]


def add(session: Session, allocation: Allocation) -> Allocation:
    """Keep a new allocation; gives it with its code."""
    row = AllocationRow(ordered=keep(allocation.order), **{name: getattr(allocation, name) for name in PLAIN})
    session.add(row)
    session.flush()
    row.code = f"ALLOCATION-{row.id:04d}"
    session.flush()
    return _fact(row, plan=None)


def accept(session: Session, code: str, *, at: datetime, by: str) -> None:
    """Write that a plan was accepted."""
    row = session.scalars(sa.select(AllocationRow).where(AllocationRow.code == code)).one()
    row.accepted_at, row.accepted_by = at, by
    session.flush()


def is_waiting(session: Session, *, now: datetime) -> bool:
    """Whether there is something to take up: one that waits, or one whose worker fell silent."""
    waits = sa.or_(AllocationRow.state == "waiting", _is_silent(now))
    return session.scalar(sa.select(AllocationRow.id).where(waits).limit(1)) is not None


def take_up(session: Session, *, runner: str, now: datetime) -> Turn | None:
    """Take the next allocation, first the one whose worker fell silent; None if another is being worked on."""
    _give_up_the_deadly(session, now)
    query = (
        sa.select(AllocationRow)
        .where(sa.or_(AllocationRow.state == "waiting", _is_silent(now)))
        .order_by(sa.case((AllocationRow.state == "running", 0), else_=1), AllocationRow.id)
        .limit(1)
    )
    row = session.scalar(query)
    if row is None:
        return None
    unchanged = (AllocationRow.id == row.id, AllocationRow.starts == row.starts)
    try:
        with session.begin_nested():
            took = session.execute(
                sa.update(AllocationRow)
                .where(*unchanged)
                .values(
                    state="running",
                    runner=runner,
                    beat_at=now,
                    started_at=sa.func.coalesce(AllocationRow.started_at, now),
                    starts=AllocationRow.starts + 1,
                    progress=READING,
                )
                .execution_options(synchronize_session=False)
            )
    except IntegrityError:
        # The index allows one that runs; another worker was faster.
        return None
    if not _wrote_one(took):
        return None
    return Turn(code=str(row.code), runner=runner, order=recall(AllocationOrder, row.ordered))


def region_of(session: Session, turn: Turn) -> Region | None:
    """What a worker before read; None where none did, or where an older version of the service kept it otherwise."""
    kept = session.scalar(sa.select(AllocationRow.region).where(AllocationRow.code == turn.code))
    try:
        return None if kept is None else recall(Region, kept)
    except (KeyError, TypeError, ValueError):
        return None


def keep_region(session: Session, turn: Turn, region: Region) -> bool:
    """Keep what the plan is made from; False when the turn was lost."""
    return _write(session, turn, region=keep(region))


def beat(session: Session, turn: Turn, *, now: datetime, progress: str) -> bool:
    """Say that the worker lives, and how far it is; False when the turn was lost."""
    return _write(session, turn, beat_at=now, progress=progress)


def finish(session: Session, turn: Turn, plan: AllocationPlan, *, now: datetime) -> bool:
    """Keep the plan; False when the turn was lost."""
    return _write(session, turn, state="done", plan=keep(plan), finished_at=now, progress="")


def fail(session: Session, turn: Turn, *, problem: str, now: datetime) -> bool:
    """Write why there is no plan; False when the turn was lost."""
    return _write(session, turn, state="failed", problem=problem, finished_at=now, progress="")


def _write(session: Session, turn: Turn, **values: object) -> bool:
    mine = (
        AllocationRow.code == turn.code,
        AllocationRow.state == "running",
        AllocationRow.runner == turn.runner,
    )
    written = session.execute(
        sa.update(AllocationRow).where(*mine).values(**values).execution_options(synchronize_session=False)
    )
    return _wrote_one(written)


def _wrote_one(written: Any) -> bool:
    return bool(written.rowcount == 1)


def _is_silent(now: datetime) -> sa.ColumnElement[bool]:
    # A beat from the future is that of a clock that was turned back.
    late = AllocationRow.beat_at < now - SILENT_FOR
    return sa.and_(AllocationRow.state == "running", sa.or_(late, AllocationRow.beat_at > now + SILENT_FOR))


def _give_up_the_deadly(session: Session, now: datetime) -> None:
    session.execute(
        sa.update(AllocationRow)
        .where(_is_silent(now), AllocationRow.starts >= STARTS_MAX)
        .values(
            state="failed",
            finished_at=now,
            progress="",
            problem=f"the process that worked on it ended {STARTS_MAX} times before it was done",
        )
        .execution_options(synchronize_session=False)
    )


def _fact(row: AllocationRow, *, plan: object) -> Allocation:
    return Allocation(
        code=str(row.code),
        order=recall(AllocationOrder, row.ordered),
        plan=None if plan is None else recall(AllocationPlan, plan),
        **{name: getattr(row, name) for name in PLAIN},
    )
