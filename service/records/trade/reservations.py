"""Reservations: get, search, add, change. Every change is made under the lock of the lot."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

import sqlalchemy as sa

from service.errors import NotFound
from service.facts import field_names
from service.market.planning.gathering import Promised
from service.market.trade.reservations import COMMITTED, LIVE, Reservation
from service.records.goods import lots
from service.records.matching import requests
from service.records.people import parties
from service.records.session import Session
from service.records.tables import LotRow, PartyRow, RequestRow, ReservationRow
from service.records.types import kilograms, unscaled

# Aliases of the table, not of its class, so that the mappers are put together with the first question only.
Grower, Brewery = PartyRow.__table__.alias("grower"), PartyRow.__table__.alias("brewery")
PLAIN = (
    "state",
    "mass_kg",
    "alpha_kg",
    "held_until",
    "grower_confirmed",
    "brewery_confirmed",
    "delivered_on",
    "delivered_kg",
    "returned_kg",
    "made_at",
    "made_by",
    "changed_at",
    "changed_by",
)


def get(session: Session, code: str) -> Reservation:
    """One reservation as it is now; read again after the lot is locked, it stays so.

    Raises:
        NotFound: there is none of that code.

    """
    query = _everything().where(ReservationRow.code == code).execution_options(populate_existing=True)
    found = session.execute(query).one_or_none()
    if found is None:
        raise NotFound(f"there is no reservation {code}")
    return _fact(found)


def search(
    session: Session,
    *,
    now: datetime,
    brewery_code: str | None = None,
    grower_code: str | None = None,
    lot_code: str | None = None,
    request_code: str | None = None,
    state: str | None = None,
    after: int | None = None,
    limit: int,
) -> list[tuple[Reservation, int]]:
    """Reservations that fit all that is named, newest first, each with its position."""
    query = _everything().order_by(ReservationRow.id.desc()).limit(limit)
    for column, value in (
        (Brewery.c.code, brewery_code),
        (Grower.c.code, grower_code),
        (LotRow.code, lot_code),
        (RequestRow.code, request_code),
    ):
        if value is not None:
            query = query.where(column == value)
    if state is not None:
        query = query.where(_is_in_state(state, now))
    if after is not None:
        query = query.where(ReservationRow.id < after)
    return [(_fact(found), found.ReservationRow.id) for found in session.execute(query)]


def search_of_lot(session: Session, lot_code: str) -> Sequence[Reservation]:
    """Every promise on a lot that was not released."""
    query = _everything().where(LotRow.code == lot_code, ReservationRow.state != "released")
    return [_fact(found) for found in session.execute(query.execution_options(populate_existing=True))]


def search_covering(session: Session, request_code: str) -> Sequence[Reservation]:
    """What is confirmed or delivered for a request."""
    query = _everything().where(RequestRow.code == request_code, ReservationRow.state.in_(COMMITTED))
    return [_fact(found) for found in session.execute(query.execution_options(populate_existing=True))]


def add_up_for_requests(session: Session, *, now: datetime) -> dict[str, Promised]:
    """What is promised for each request that is still open, by its code, added up by the database."""
    row, none = ReservationRow, sa.literal(Decimal(0), kilograms())
    delivered = sa.func.coalesce(row.delivered_kg, none) - row.returned_kg
    taken = sa.case((row.state == "delivered", delivered), else_=row.mass_kg)
    whole = sa.type_coerce(row.mass_kg, row.mass_kg.type)
    alpha = row.alpha_kg * sa.cast(unscaled(taken), sa.Float) / sa.cast(unscaled(whole), sa.Float)
    live = sa.or_(row.state.in_(COMMITTED), _is_in_state("held", now))
    query = (
        sa.select(
            RequestRow.code,
            *(
                sa.func.sum(sa.case((row.state == state, taken), else_=none)).label(f"{state}_kg")
                for state in LIVE
            ),
            sa.func.coalesce(sa.func.sum(alpha), 0.0).label("alpha_kg"),
            sa.func.count(sa.distinct(row.lot_id)).label("lots"),
        )
        .join(RequestRow, RequestRow.id == row.request_id)
        .where(live, RequestRow.state == "open", RequestRow.last_needed_on >= now.date())
        .group_by(RequestRow.code)
    )
    return {
        found.code: Promised(**{name: getattr(found, name) for name in field_names(Promised)})
        for found in session.execute(query)
    }


def add(session: Session, reservation: Reservation) -> None:
    """Keep a new reservation; the lot is locked already."""
    request_code = reservation.request_code
    row = ReservationRow(
        code=reservation.code,
        lot_id=lots.get_row(session, reservation.lot_code).id,
        brewery_id=parties.get_row(session, "brewery", reservation.brewery_code).id,
        request_id=requests.get_row(session, request_code).id if request_code else None,
    )
    _write(row, reservation)
    session.add(row)
    session.flush()


def next_code(session: Session, brewery_code: str) -> str:
    """The next code of a brewery's reservations."""
    return f"{brewery_code}-RES-{parties.next_number(session, 'brewery', brewery_code):02d}"


def change(session: Session, reservation: Reservation) -> None:
    """Write what changed of a reservation; the lot is locked already."""
    row = session.scalars(sa.select(ReservationRow).where(ReservationRow.code == reservation.code)).one()
    _write(row, reservation)
    session.flush()


def _write(row: ReservationRow, reservation: Reservation) -> None:
    for name in PLAIN:
        setattr(row, name, getattr(reservation, name))


def _everything() -> Any:
    # The type of a five-column select is longer than what it tells.
    return (
        sa.select(
            ReservationRow,
            LotRow.code.label("lot_code"),
            Grower.c.code.label("grower_code"),
            Brewery.c.code.label("brewery_code"),
            RequestRow.code.label("request_code"),
        )
        .join(LotRow, LotRow.id == ReservationRow.lot_id)
        .join(Grower, Grower.c.id == LotRow.grower_id)
        .join(Brewery, Brewery.c.id == ReservationRow.brewery_id)
        .outerjoin(RequestRow, RequestRow.id == ReservationRow.request_id)
    )


def _is_in_state(state: str, now: datetime) -> sa.ColumnElement[bool]:
    over = sa.and_(ReservationRow.held_until.is_not(None), ReservationRow.held_until <= now)
    if state == "expired":
        return sa.and_(ReservationRow.state.in_(("held", "offered")), over)
    if state in ("held", "offered"):
        return sa.and_(ReservationRow.state == state, sa.not_(over))
    return ReservationRow.state == state


def _fact(found: Any) -> Reservation:
    row = found.ReservationRow
    return Reservation(
        code=row.code,
        lot_code=found.lot_code,
        grower_code=found.grower_code,
        brewery_code=found.brewery_code,
        request_code=found.request_code,
        **{name: getattr(row, name) for name in PLAIN},
    )
