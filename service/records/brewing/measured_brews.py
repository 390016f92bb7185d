"""Measured brews of breweries: newest, count, next_code, add, remove."""

from collections.abc import Sequence
from datetime import datetime

import sqlalchemy as sa

from service.errors import NotFound
from service.market.brewing.calibrations import MeasuredBrew
from service.records.people import parties
from service.records.session import Session
from service.records.tables import MeasuredBrewRow, PartyRow

PLAIN = ("code", "brewed_on", "measured_bu", "note", "filed_at", "filed_by")


def newest(
    session: Session, brewery_code: str, *, limit: int, after: tuple[datetime, str] | None = None
) -> Sequence[MeasuredBrew]:
    """The brews of a brewery, newest filed first; `after` is when the last one was filed, and its code."""
    place = sa.tuple_(MeasuredBrewRow.filed_at, MeasuredBrewRow.code)
    query = _brews_of(brewery_code).limit(limit)
    query = query.order_by(MeasuredBrewRow.filed_at.desc(), MeasuredBrewRow.code.desc())
    if after is not None:
        query = query.where(place < after)
    return [_fact(row, brewery_code) for row in session.scalars(query)]


def count(session: Session, brewery_code: str) -> int:
    """How many brews a brewery keeps."""
    query = sa.select(sa.func.count()).select_from(_brews_of(brewery_code).subquery())
    return session.scalars(query).one()


def next_code(session: Session, brewery_code: str) -> str:
    """The next code of a brewery's brews."""
    return f"{brewery_code}-BREW-{parties.next_number(session, 'brewery', brewery_code):02d}"


def add(session: Session, brew: MeasuredBrew) -> None:
    """Keep a new brew.

    Raises:
        NotFound: there is no such brewery.

    """
    row = MeasuredBrewRow(brewery_id=parties.get_row(session, "brewery", brew.brewery_code).id)
    for name in PLAIN:
        setattr(row, name, getattr(brew, name))
    row.told = dict(brew.told)
    row.hops = [dict(one) for one in brew.hops]
    session.add(row)
    session.flush()


def remove(session: Session, brewery_code: str, code: str) -> None:
    """Take a brew out of the books.

    Raises:
        NotFound: the brewery keeps no such brew.

    """
    row = session.scalars(_brews_of(brewery_code).where(MeasuredBrewRow.code == code)).one_or_none()
    if row is None:
        raise NotFound(f"{brewery_code} keeps no brew {code}")
    session.delete(row)
    session.flush()


def _brews_of(brewery_code: str) -> sa.Select[MeasuredBrewRow]:
    return (
        sa.select(MeasuredBrewRow)
        .join(PartyRow, PartyRow.id == MeasuredBrewRow.brewery_id)
        .where(PartyRow.kind == "brewery", PartyRow.code == brewery_code)
    )


def _fact(row: MeasuredBrewRow, brewery_code: str) -> MeasuredBrew:
    return MeasuredBrew(
        brewery_code=brewery_code,
        told=row.told,
        hops=tuple(row.hops),
        **{name: getattr(row, name) for name in PLAIN},
    )
