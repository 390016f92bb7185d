"""Lots whose search columns were kept by older sums: found, and kept anew."""

from collections.abc import Sequence

import sqlalchemy as sa

from service.market.matching.search import FIGURES_VERSION
from service.records.session import Session
from service.records.tables import LotRow


def outdated(session: Session, *, limit: int) -> Sequence[str]:
    """Codes of listed lots whose figures were kept by older sums, at most so many, in their order."""
    query = (
        sa.select(LotRow.code)
        .where(
            LotRow.state == "listed",
            sa.or_(LotRow.search_version.is_(None), LotRow.search_version < FIGURES_VERSION),
        )
        .order_by(LotRow.code)
        .limit(limit)
    )
    return list(session.scalars(query))
