"""Cultivars the region added, and the planting status it found out: get, find, search, add, change."""

from collections.abc import Collection, Sequence

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from service.errors import AlreadyExists, NotFound
from service.facts import as_dict
from service.market.goods.cultivars import CultivarStatus, RegionalCultivar
from service.records.session import Session
from service.records.tables import CultivarRow, CultivarStatusRow
from service.reference.cultivars import Figure


def get(session: Session, code: str) -> RegionalCultivar:
    """One cultivar that the region added.

    Raises:
        NotFound: there is none of that code.

    """
    return _fact(_row(session, code))


def search(session: Session, *, lock: bool = False) -> list[RegionalCultivar]:
    """Every cultivar the region added, in the order of their codes.

    With `lock` nobody else changes the region's books until this transaction ends: no name can be given to
    two cultivars, and no finding be written over unseen.
    """
    if lock and session.get_bind().dialect.name == "postgresql":
        # On SQLite a writer is alone already.
        session.execute(sa.text("LOCK TABLE cultivar IN SHARE ROW EXCLUSIVE MODE"))
    return [_fact(row) for row in session.scalars(sa.select(CultivarRow).order_by(CultivarRow.code))]


def search_statuses(session: Session, code: str) -> list[CultivarStatus]:
    """What the region found out about planting one cultivar, by country."""
    return search_all_statuses(session, [code])[code]


def search_all_statuses(session: Session, codes: Collection[str]) -> dict[str, list[CultivarStatus]]:
    """What the region found out about planting each of these cultivars, by country."""
    query = (
        sa.select(CultivarStatusRow)
        .where(CultivarStatusRow.cultivar_code.in_(codes))
        .order_by(CultivarStatusRow.country)
    )
    found: dict[str, list[CultivarStatus]] = {code: [] for code in codes}
    for row in session.scalars(query):
        found[row.cultivar_code].append(_status(row))
    return found


def add(session: Session, cultivar: RegionalCultivar) -> None:
    """Keep a new cultivar.

    Raises:
        AlreadyExists: the code is taken.

    """
    row = CultivarRow()
    _write(row, cultivar)
    session.add(row)
    try:
        session.flush()
    except IntegrityError:
        raise AlreadyExists(
            f"there is a cultivar {cultivar.code} already", cultivar_code=cultivar.code
        ) from None


def change(session: Session, cultivar: RegionalCultivar) -> None:
    """Write what changed of a cultivar.

    Raises:
        NotFound: there is none of that code.

    """
    _write(_row(session, cultivar.code), cultivar)
    session.flush()


def change_statuses(session: Session, code: str, statuses: Sequence[CultivarStatus]) -> None:
    """Let these be what the region found out about planting one cultivar: one finding for each country."""
    query = sa.select(CultivarStatusRow).where(CultivarStatusRow.cultivar_code == code)
    row_by_country = {row.country: row for row in session.scalars(query)}
    for status in statuses:
        row = row_by_country.pop(status.country, None) or CultivarStatusRow()
        for name in ("country", "status", "source", "checked_on"):
            setattr(row, name, getattr(status, name))
        row.cultivar_code = code
        session.add(row)
    for row in row_by_country.values():
        session.delete(row)
    session.flush()


def _row(session: Session, code: str) -> CultivarRow:
    row = session.scalar(sa.select(CultivarRow).where(CultivarRow.code == code))
    if row is None:
        raise NotFound(f"there is no cultivar {code}")
    return row


def _write(row: CultivarRow, cultivar: RegionalCultivar) -> None:
    row.code = cultivar.code
    row.denomination = cultivar.denomination
    row.synonyms = list(cultivar.synonyms)
    row.role = cultivar.role
    row.source = cultivar.source
    row.figures = [as_dict(figure) for figure in cultivar.figures]


def _fact(row: CultivarRow) -> RegionalCultivar:
    return RegionalCultivar(
        code=row.code,
        denomination=row.denomination,
        synonyms=tuple(row.synonyms),
        role=row.role,
        source=row.source,
        figures=tuple(Figure(**figure) for figure in row.figures),
    )


def _status(row: CultivarStatusRow) -> CultivarStatus:
    return CultivarStatus(
        cultivar_code=row.cultivar_code,
        country=row.country,
        status=row.status,
        source=row.source,
        checked_on=row.checked_on,
    )
