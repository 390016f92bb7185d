"""Growers and breweries: get, find, search, add, change."""

from collections.abc import Sequence

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import aliased

from service.errors import AlreadyExists, NotFound
from service.market.people.parties import Party
from service.records.session import Session
from service.records.tables import LotRow, PartyRow, ReservationRow


def get(session: Session, kind: str, code: str, *, lock: bool = False) -> Party:
    """One party.

    Raises:
        NotFound: there is none of that code.

    """
    return _fact(get_row(session, kind, code, lock=lock))


def get_row(session: Session, kind: str, code: str, *, lock: bool = False) -> PartyRow:
    """The row of a party; for the other files of this room."""
    query = sa.select(PartyRow).where(PartyRow.kind == kind, PartyRow.code == code)
    row = session.scalar(query.with_for_update() if lock else query)
    if row is None:
        raise NotFound(f"there is no {kind} {code}")
    return row


def next_number(session: Session, kind: str, code: str) -> int:
    """Count one more thing made by a party; the row stays locked, so that no number is given twice."""
    row = get_row(session, kind, code, lock=True)
    row.things_made += 1
    session.flush()
    return row.things_made


def search(session: Session, kind: str, *, after: str | None, limit: int) -> Sequence[Party]:
    """Parties in the order of their codes."""
    query = sa.select(PartyRow).where(PartyRow.kind == kind).order_by(PartyRow.code).limit(limit)
    if after is not None:
        query = query.where(PartyRow.code > after)
    return [_fact(row) for row in session.scalars(query)]


def search_committed(session: Session, kind: str, *, to: str) -> frozenset[str]:
    """Codes of the parties of a kind that share a promise, not released, with a party of the other kind."""
    grower, brewery = aliased(PartyRow), aliased(PartyRow)
    wanted, known = (grower, brewery) if kind == "grower" else (brewery, grower)
    query = (
        sa.select(wanted.code)
        .select_from(ReservationRow)
        .join(LotRow, LotRow.id == ReservationRow.lot_id)
        .join(grower, grower.id == LotRow.grower_id)
        .join(brewery, brewery.id == ReservationRow.brewery_id)
        .where(known.code == to, ReservationRow.state != "released")
        .distinct()
    )
    return frozenset(session.scalars(query))


def add(session: Session, party: Party) -> None:
    """Keep a new party.

    Raises:
        AlreadyExists: the code is taken.

    """
    row = PartyRow()
    _write(row, party)
    session.add(row)
    try:
        session.flush()
    except IntegrityError:
        raise AlreadyExists(f"there is a {party.kind} {party.code} already", party_code=party.code) from None


def change(session: Session, party: Party) -> None:
    """Write what changed of a party."""
    _write(get_row(session, party.kind, party.code), party)


def _write(row: PartyRow, party: Party) -> None:
    for name in (
        "kind",
        "code",
        "name",
        "email",
        "country",
        "locality",
        "latitude_deg",
        "longitude_deg",
        "elevation_m",
        "shows_consistency",
    ):
        setattr(row, name, getattr(party, name))
    row.unit_x, row.unit_y, row.unit_z = party.unit_vector


def _fact(row: PartyRow) -> Party:
    return Party(
        kind=row.kind,
        code=row.code,
        name=row.name,
        email=row.email,
        country=row.country,
        locality=row.locality,
        latitude_deg=row.latitude_deg,
        longitude_deg=row.longitude_deg,
        elevation_m=row.elevation_m,
        shows_consistency=row.shows_consistency,
    )
