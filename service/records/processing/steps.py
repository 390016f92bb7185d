"""How lots were made of others: the step of a lot, and the tree of lots, both ways."""

from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal

import sqlalchemy as sa

from service.facts import field_names
from service.market.goods.lots import Step
from service.market.processing.steps import Edge
from service.records.goods import lots
from service.records.session import Session
from service.records.tables import BookingRow, LotRow, StepRow

PLAIN = tuple(name for name in field_names(Step) if name != "lot_code")
From, Into = LotRow.__table__.alias("from_lot"), LotRow.__table__.alias("into_lot")


def find(session: Session, lot_code: str) -> Step | None:
    """The step that made a lot; None of one that came from the yard."""
    return find_many(session, [lot_code]).get(lot_code)


def find_many(session: Session, lot_codes: Iterable[str]) -> dict[str, Step]:
    """The steps that made lots, by the lot's code, of those that were made by one."""
    query = (
        sa.select(LotRow.code, StepRow)
        .join(StepRow, StepRow.lot_id == LotRow.id)
        .where(LotRow.code.in_(sorted(set(lot_codes))))
    )
    return {
        code: Step(lot_code=code, **{name: getattr(row, name) for name in PLAIN})
        for code, row in session.execute(query)
    }


def put(session: Session, step: Step) -> None:
    """Keep the step that made a lot, over the one there is."""
    lot_id = lots.get_row(session, step.lot_code).id
    row = session.scalar(sa.select(StepRow).where(StepRow.lot_id == lot_id))
    if row is None:
        row = StepRow(lot_id=lot_id)
        session.add(row)
    for name in PLAIN:
        setattr(row, name, getattr(step, name))
    session.flush()


def remove(session: Session, lot_code: str) -> None:
    """Forget the step that made a lot."""
    row = session.scalar(
        sa.select(StepRow).join(LotRow, LotRow.id == StepRow.lot_id).where(LotRow.code == lot_code)
    )
    if row is not None:
        session.delete(row)
        session.flush()


def edges_into(session: Session, lot_codes: Iterable[str]) -> Sequence[Edge]:
    """What went into lots, by lot and by where it came from, in the order of codes."""
    return _edges(session, Into.c.code.in_(sorted(set(lot_codes))))


def edges_out_of(session: Session, lot_codes: Iterable[str]) -> Sequence[Edge]:
    """What went from lots into others, in the order of codes."""
    return _edges(session, From.c.code.in_(sorted(set(lot_codes))))


def ancestors(session: Session, lot_code: str) -> Sequence[Edge]:
    """Everything that a lot was made of, as far back as the books go: edges, nearest first."""
    return _walk(session, lot_code, edges_into, lambda edge: edge.from_code)


def descendants(session: Session, lot_code: str) -> Sequence[Edge]:
    """Everything that was made of a lot, and of that again: edges, nearest first."""
    return _walk(session, lot_code, edges_out_of, lambda edge: edge.into_code)


def parts_below(session: Session, lot_code: str) -> list[str]:
    """The lots that hold the same goods as a lot: split off it or opened, and off those again; in order of codes."""
    found: set[str] = set()
    reached = {lot_code}
    while reached:
        edges = edges_out_of(session, reached)
        made = find_many(session, {edge.into_code for edge in edges})
        reached = {code for code, step in made.items() if step.keeps_goods} - found
        found |= reached
    return sorted(found)


def _walk(
    session: Session,
    lot_code: str,
    step: Callable[[Session, Iterable[str]], Sequence[Edge]],
    far_end: Callable[[Edge], str],
) -> list[Edge]:
    found: list[Edge] = []
    seen, reached = {lot_code}, {lot_code}
    while reached:
        edges = step(session, reached)
        found += edges
        reached = {far_end(edge) for edge in edges} - seen
        seen |= reached
    return found


def _edges(session: Session, condition: sa.ColumnElement[bool]) -> list[Edge]:
    # Only what moved makes an edge; what was lost on the way is brought, but does not arrive.
    none = sa.literal(Decimal(0), BookingRow.mass_kg.type)
    moved = sa.func.sum(sa.case((BookingRow.kind == "moved", BookingRow.mass_kg), else_=none))
    query = (
        sa.select(From.c.code, Into.c.code, moved, sa.func.sum(BookingRow.mass_kg))
        .join(From, From.c.id == BookingRow.lot_id)
        .join(Into, Into.c.id == BookingRow.into_lot_id)
        .where(condition, BookingRow.taken_back_at.is_(None))
        .group_by(From.c.code, Into.c.code)
        .order_by(From.c.code, Into.c.code)
    )
    return [
        Edge(from_code=from_code, into_code=into_code, mass_kg=mass_kg, brought_kg=brought_kg)
        for from_code, into_code, mass_kg, brought_kg in session.execute(query)
    ]
