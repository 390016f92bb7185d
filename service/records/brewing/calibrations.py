"""Breweries' own utilizations: search, add."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa

from service.market.brewing.calibrations import PastBrew, UtilizationFit
from service.records.people import parties
from service.records.session import Session
from service.records.tables import PartyRow, UtilizationFitRow
from service.science.brewhouse import BrewhouseFit


def search(session: Session, brewery_code: str, *, limit: int = 1000) -> Sequence[UtilizationFit]:
    """The fits of a brewery, oldest first; of more than the limit, the newest."""
    query = (
        sa.select(UtilizationFitRow)
        .join(PartyRow, PartyRow.id == UtilizationFitRow.brewery_id)
        .where(PartyRow.kind == "brewery", PartyRow.code == brewery_code)
        .order_by(UtilizationFitRow.id.desc())
        .limit(limit)
    )
    return [_fact(row, brewery_code) for row in reversed(session.scalars(query).all())]


def add(
    session: Session,
    *,
    brewery_code: str,
    fit: BrewhouseFit,
    brews: Sequence[PastBrew],
    note: str | None,
    made_at: datetime,
    made_by: str,
) -> UtilizationFit:
    """Keep a fit under the brewery's next code.

    Raises:
        NotFound: there is no such brewery.

    """
    brewery = parties.get_row(session, "brewery", brewery_code, lock=True)
    count = session.scalar(sa.select(sa.func.count()).where(UtilizationFitRow.brewery_id == brewery.id))
    row = UtilizationFitRow(
        brewery_id=brewery.id,
        code=f"U{(count or 0) + 1}",
        base_model=fit.base_model,
        alpha_basis=fit.alpha_basis,
        factor=fit.factor,
        whirlpool_factor=fit.whirlpool_factor,
        has_own_whirlpool_factor=fit.has_own_whirlpool_factor,
        left_out_error_fraction=fit.left_out_error_fraction,
        brews=[_plain(brew) for brew in brews],
        note=note,
        made_at=made_at,
        made_by=made_by,
    )
    session.add(row)
    session.flush()
    return _fact(row, brewery_code)


def _plain(brew: PastBrew) -> dict[str, Any]:
    return {
        "brewed_on": brew.brewed_on.isoformat(),
        "measured_bu": brew.measured_bu,
        "boil_ibu": brew.boil_ibu,
        "whirlpool_ibu": brew.whirlpool_ibu,
        "told": dict(brew.told),
    }


def _fact(row: UtilizationFitRow, brewery_code: str) -> UtilizationFit:
    return UtilizationFit(
        code=row.code,
        brewery_code=brewery_code,
        fit=BrewhouseFit(
            base_model=row.base_model,
            alpha_basis=row.alpha_basis,
            factor=row.factor,
            whirlpool_factor=row.whirlpool_factor,
            has_own_whirlpool_factor=row.has_own_whirlpool_factor,
            brews=len(row.brews),
            left_out_error_fraction=row.left_out_error_fraction,
        ),
        brews=tuple(
            PastBrew(**{**brew, "brewed_on": date.fromisoformat(brew["brewed_on"])}) for brew in row.brews
        ),
        note=row.note,
        made_at=row.made_at,
        made_by=row.made_by,
    )
