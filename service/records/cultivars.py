"""Cultivars the region added, and the planting status it found out."""

import sqlalchemy as sa

from service.market.cultivars import CultivarStatus, RegionalCultivar
from service.records.session import Session
from service.records.tables import CultivarRow, CultivarStatusRow


def search(session: Session) -> list[RegionalCultivar]:
    """Every cultivar the region added, in the order of their codes."""
    return [_fact(row) for row in session.scalars(sa.select(CultivarRow).order_by(CultivarRow.code))]


def search_statuses(session: Session, code: str) -> list[CultivarStatus]:
    """What the region found out about planting one cultivar, by country."""
    query = (
        sa.select(CultivarStatusRow)
        .where(CultivarStatusRow.cultivar_code == code)
        .order_by(CultivarStatusRow.country)
    )
    return [
        CultivarStatus(
            cultivar_code=row.cultivar_code,
            country=row.country,
            status=row.status,
            source=row.source,
            checked_on=row.checked_on,
        )
        for row in session.scalars(query)
    ]


def _fact(row: CultivarRow) -> RegionalCultivar:
    return RegionalCultivar(
        code=row.code,
        denomination=row.denomination,
        synonyms=tuple(row.synonyms),
        role=row.role,
        source=row.source,
        figures=tuple(row.figures),
    )
