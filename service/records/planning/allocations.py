"""Region-wide plans: get, search, add, accept."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from msgspec import convert, to_builtins
from sqlalchemy.orm import undefer

from service.errors import NotFound
from service.facts import replace
from service.market.planning.allocations import Allocation, AllocationOrder, AllocationPlan, ListedAllocation
from service.records.session import Session
from service.records.tables import AllocationRow


def get(session: Session, code: str, *, lock: bool = False) -> Allocation:
    """One allocation with its plan.

    Raises:
        NotFound: there is none of that code.

    """
    query = sa.select(AllocationRow).where(AllocationRow.code == code).options(undefer(AllocationRow.plan))
    row = session.scalar(query.with_for_update() if lock else query)
    if row is None:
        raise NotFound(f"there is no allocation {code}")
    return Allocation(plan=convert(row.plan, AllocationPlan), **_facts(row))


def search(session: Session, *, after: int | None, limit: int) -> Sequence[tuple[ListedAllocation, int]]:
    """Allocations without their plans, newest first, each with its position."""
    query = sa.select(AllocationRow).order_by(AllocationRow.id.desc()).limit(limit)
    if after is not None:
        query = query.where(AllocationRow.id < after)
    return [(ListedAllocation(**_facts(row)), row.id) for row in session.scalars(query)]


def add(session: Session, allocation: Allocation) -> Allocation:
    """Keep a new allocation; gives it with its code."""
    row = AllocationRow(
        ordered=to_builtins(allocation.order),
        asked_at=allocation.asked_at,
        asked_by=allocation.asked_by,
        plan=to_builtins(allocation.plan),
    )
    session.add(row)
    session.flush()
    row.code = f"ALLOCATION-{row.id:04d}"
    session.flush()
    return replace(allocation, code=row.code)


def accept(session: Session, code: str, *, at: datetime, by: str) -> None:
    """Write that a plan was accepted."""
    row = session.scalars(sa.select(AllocationRow).where(AllocationRow.code == code)).one()
    row.accepted_at, row.accepted_by = at, by
    session.flush()


def _facts(row: AllocationRow) -> dict[str, Any]:
    return {
        "code": str(row.code),
        "order": convert(row.ordered, AllocationOrder),
        "asked_at": row.asked_at,
        "asked_by": row.asked_by,
        "accepted_at": row.accepted_at,
        "accepted_by": row.accepted_by,
    }
