"""Figures that older sums kept are kept anew."""

from decimal import Decimal

import sqlalchemy as sa
from sqlalchemy.orm import Session

from service.market.matching.search import FIGURES_VERSION
from service.records.goods import lots
from service.records.people import parties
from service.records.tables import LotRow
from service.usecases.matching.search_figures import keep_anew
from tests.factories import NOW, ListedLotFactory, LotFactory, PartyFactory


def test_listed_lots_of_older_sums_are_kept_anew_and_no_others(session: Session) -> None:
    parties.add(session, PartyFactory(kind="grower", code="ALDER"))
    draft, old = LotFactory(code="ALDER-2026-01"), ListedLotFactory(code="ALDER-2026-02", mass_kg=Decimal(50))
    new = ListedLotFactory(code="ALDER-2026-03")
    for lot in (draft, old, new):
        lots.add(session, lot, cultivar_key="WILLAMETTE")
    lots.change(session, new)

    assert keep_anew(session, now=NOW) == 1
    assert keep_anew(session, now=NOW) == 0

    versions = session.execute(sa.select(LotRow.search_version).order_by(LotRow.code)).scalars().all()
    assert versions == [None, FIGURES_VERSION, FIGURES_VERSION]
    kept = session.execute(sa.select(LotRow.search_alpha_reports, LotRow.mass_kg).order_by(LotRow.code)).all()
    assert [tuple(row) for row in kept[1:]] == [(1, Decimal(50)), (1, new.mass_kg)]
