"""Requests: get, search, add, change."""

from datetime import date
from decimal import Decimal
from typing import Any

import sqlalchemy as sa

from service.errors import NotFound
from service.facts import as_dict
from service.market.brewing.bitterness_targets import BitternessTarget
from service.market.matching.requests import Delivery, OilLike, Request
from service.records.people import parties
from service.records.session import Session
from service.records.tables import PartyRow, RequestRow

LISTS = ("cultivars", "forms", "packings", "certifications", "origins")
PLAIN = (
    "state",
    "role",
    "role_strict",
    "firmness",
    "accept_others",
    "alpha_percent_min",
    "alpha_percent_max",
    "hop_storage_index_max",
    "moisture_percent_max",
    "oil_ml_per_100g_min",
    "kept_from",
    "kept_at_c",
    "kept_packing",
    "within_km",
    "price_per_kg_max",
    "price_per_kg_alpha_max",
    "currency",
    "lots_max",
    "parcel_kg_min",
    "standing",
    "note",
    "made_at",
    "made_by",
)


def get(session: Session, code: str, *, lock: bool = False) -> Request:
    """One request; with `lock` nobody else changes it before this transaction ends.

    Raises:
        NotFound: there is none of that code.

    """
    row = get_row(session, code, lock=lock)
    brewery_code = session.scalar(sa.select(PartyRow.code).where(PartyRow.id == row.brewery_id))
    return _fact(row, str(brewery_code))


def get_row(session: Session, code: str, *, lock: bool = False) -> RequestRow:
    """The row of a request; for the other files of this room."""
    query = sa.select(RequestRow).where(RequestRow.code == code).execution_options(populate_existing=lock)
    row = session.scalar(query.with_for_update() if lock else query)
    if row is None:
        raise NotFound(f"there is no request {code}")
    return row


def search(
    session: Session,
    *,
    brewery_code: str | None,
    state: str | None,
    today: date,
    after: int | None,
    limit: int,
) -> list[tuple[Request, int]]:
    """Requests of one brewery (None: of all), newest first, each with its position."""
    query = (
        sa.select(RequestRow, PartyRow.code)
        .join(PartyRow, PartyRow.id == RequestRow.brewery_id)
        .order_by(RequestRow.id.desc())
        .limit(limit)
    )
    if brewery_code is not None:
        query = query.where(PartyRow.code == brewery_code)
    if state == "lapsed":
        query = query.where(RequestRow.state == "open", RequestRow.last_needed_on < today)
    elif state == "open":
        query = query.where(RequestRow.state == "open", RequestRow.last_needed_on >= today)
    elif state is not None:
        query = query.where(RequestRow.state == state)
    if after is not None:
        query = query.where(RequestRow.id < after)
    return [(_fact(row, code), row.id) for row, code in session.execute(query)]


def search_standing(session: Session, *, today: date) -> list[Request]:
    """The standing requests that still want something, oldest first."""
    query = (
        sa.select(RequestRow, PartyRow.code)
        .join(PartyRow, PartyRow.id == RequestRow.brewery_id)
        .where(RequestRow.standing, RequestRow.state != "withdrawn", RequestRow.last_needed_on >= today)
        .order_by(RequestRow.id)
    )
    return [_fact(row, code) for row, code in session.execute(query)]


def add(session: Session, request: Request) -> None:
    """Keep a new request."""
    row = RequestRow(
        code=request.code, brewery_id=parties.get_row(session, "brewery", request.brewery_code).id
    )
    _write(row, request)
    session.add(row)
    session.flush()


def next_code(session: Session, brewery_code: str) -> str:
    """The next code of a brewery's requests; the brewery's row stays locked, so that none is given twice."""
    return f"{brewery_code}-REQ-{parties.next_number(session, 'brewery', brewery_code):02d}"


def change(session: Session, request: Request) -> None:
    """Write what changed of a request."""
    _write(get_row(session, request.code), request)
    session.flush()


def _write(row: RequestRow, request: Request) -> None:
    for name in PLAIN:
        setattr(row, name, getattr(request, name))
    for name in LISTS:
        setattr(row, name, list(getattr(request, name)))
    row.deliveries = [_plain(delivery) for delivery in request.deliveries]
    row.last_needed_on = request.last_needed_on
    row.weights = dict(request.weights)
    like = request.oil_like or OilLike()
    row.oil_like_cultivar, row.oil_like_lot_code = like.cultivar, like.lot_code


def _plain(delivery: Delivery) -> dict[str, Any]:
    # Masses stand as text, so that they come back exactly.
    return {
        "needed_on": delivery.needed_on.isoformat(),
        "mass_kg": None if delivery.mass_kg is None else str(delivery.mass_kg),
        "alpha_kg": None if delivery.alpha_kg is None else str(delivery.alpha_kg),
        "bitterness": None if delivery.bitterness is None else as_dict(delivery.bitterness),
    }


def _fact(row: RequestRow, brewery_code: str) -> Request:
    plain: dict[str, Any] = {name: getattr(row, name) for name in PLAIN}
    plain |= {name: tuple(getattr(row, name)) for name in LISTS}
    like = OilLike(cultivar=row.oil_like_cultivar, lot_code=row.oil_like_lot_code)
    return Request(
        code=row.code,
        brewery_code=brewery_code,
        deliveries=tuple(_delivery(kept) for kept in row.deliveries),
        weights=dict(row.weights),
        oil_like=None if like == OilLike() else like,
        **plain,
    )


def _delivery(kept: dict[str, Any]) -> Delivery:
    target = kept["bitterness"]
    return Delivery(
        needed_on=date.fromisoformat(kept["needed_on"]),
        mass_kg=None if kept["mass_kg"] is None else Decimal(kept["mass_kg"]),
        alpha_kg=None if kept["alpha_kg"] is None else Decimal(kept["alpha_kg"]),
        bitterness=None if target is None else BitternessTarget(**target),
    )
