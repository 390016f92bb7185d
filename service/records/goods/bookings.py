"""Bookings: search, add, change. Every one is made under the lock of its lot, and counts as taken from it."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

import sqlalchemy as sa

from service.facts import replace
from service.market.goods.bookings import Booking
from service.market.goods.lots import Package
from service.records.goods import lots
from service.records.session import Session
from service.records.tables import BookingRow, LotRow

PLAIN = (
    "code",
    "kind",
    "mass_kg",
    "booked_on",
    "reason",
    "made_at",
    "made_by",
    "taken_back_at",
    "taken_back_by",
    "taken_back_reason",
)


def search(session: Session, lot_code: str) -> Sequence[Booking]:
    """All bookings of a lot, oldest first, with those that were taken back."""
    lot, into = LotRow.__table__.alias("booked"), LotRow.__table__.alias("into")
    query = (
        sa.select(BookingRow, lot.c.code, into.c.code)
        .join(lot, lot.c.id == BookingRow.lot_id)
        .outerjoin(into, into.c.id == BookingRow.into_lot_id)
        .where(lot.c.code == lot_code)
        .order_by(BookingRow.id)
        .execution_options(populate_existing=True)
    )
    return [
        Booking(
            lot_code=code,
            into_lot_code=into_code,
            packages=_packages(row.packages),
            **{name: getattr(row, name) for name in PLAIN},
        )
        for row, code, into_code in session.execute(query)
    ]


def add(session: Session, booking: Booking) -> Booking:
    """Keep a new booking and take its kilograms from the lot, which is locked already; gives it with its code."""
    row = lots.get_row(session, booking.lot_code)
    count = session.scalar(
        sa.select(sa.func.count()).select_from(BookingRow).where(BookingRow.lot_id == row.id)
    )
    kept = replace(booking, code=f"B{(count or 0) + 1}")
    into = lots.get_row(session, booking.into_lot_code).id if booking.into_lot_code else None
    packages = [[p.kind, str(p.count), str(p.net_kg)] for p in kept.packages] or None
    plain = {name: getattr(kept, name) for name in PLAIN}
    session.add(BookingRow(lot_id=row.id, into_lot_id=into, packages=packages, **plain))
    lots.take(session, booking.lot_code, booking.mass_kg)
    return kept


def add_all(session: Session, bookings: Sequence[Booking]) -> None:
    """Keep what a step booked; all its lots are locked already."""
    for booking in bookings:
        add(session, booking)


def change(session: Session, booking: Booking) -> None:
    """Write a booking that was taken back, and give its kilograms back to the lot, which is locked already."""
    lot = lots.get_row(session, booking.lot_code)
    row = session.scalars(
        sa.select(BookingRow).where(BookingRow.lot_id == lot.id, BookingRow.code == booking.code)
    ).one()
    counted = row.taken_back_at is None
    for name in PLAIN:
        setattr(row, name, getattr(booking, name))
    if counted and not booking.counts:
        lots.take(session, booking.lot_code, Decimal(0) - booking.mass_kg)
    session.flush()


def release_all_into(
    session: Session, lot_code: str, *, now: datetime, by: str, reason: str
) -> Sequence[Booking]:
    """Take back everything that went into a lot that leaves the books; all lots are locked already."""
    lot = lots.get_row(session, lot_code)
    sources = session.scalars(
        sa.select(LotRow.code)
        .join(BookingRow, BookingRow.lot_id == LotRow.id)
        .where(BookingRow.into_lot_id == lot.id)
        .distinct()
        .order_by(LotRow.code)
    ).all()
    released = []
    for source in sources:
        for booking in search(session, source):
            if booking.into_lot_code == lot_code and booking.counts:
                gone = replace(booking, taken_back_at=now, taken_back_by=by, taken_back_reason=reason)
                change(session, gone)
                released.append(gone)
    session.execute(
        sa.update(BookingRow).where(BookingRow.into_lot_id == lot.id).values(into_lot_id=None),
        execution_options={"synchronize_session": "evaluate"},
    )
    return released


def _packages(kept: list[list[str]] | None) -> tuple[Package, ...]:
    return tuple(Package(kind=kind, count=int(count), net_kg=Decimal(net)) for kind, count, net in kept or ())
