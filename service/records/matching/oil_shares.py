"""The oil shares that stand for many lots, in one SELECT."""

from collections.abc import Sequence

import sqlalchemy as sa

from service.market.matching.oil_similarity import OilShares
from service.records.session import Session
from service.records.tables import LabReportRow, LotRow


def oil_shares_of(session: Session, codes: Sequence[str]) -> list[OilShares | None]:
    """What stands for each lot: its newest standing report that measured shares; of one day's, the later filed.

    A search asks for at most 5,000 lots, and so many are named in one statement.
    """
    report = LabReportRow
    query = (
        sa.select(LotRow.code, report.oil_shares_basis, report.oil_shares_percent)
        .join(LotRow, LotRow.id == report.lot_id)
        .where(
            LotRow.code.in_(codes),
            report.oil_shares_basis.is_not(None),
            report.corrected_by.is_(None),
            report.drawn_by != "buyer",
            ~report.before_pelletizing,
        )
        .order_by(report.sampled_on, sa.func.length(report.code), report.code)
    )
    # The last one of a lot is the one that stands.
    found = {
        code: OilShares(basis=basis, percent=percent)
        for code, basis, percent in session.execute(query)
        if basis and percent
    }
    return [found.get(code) for code in codes]
