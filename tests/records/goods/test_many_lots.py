"""Several lots are read as facts in a fixed number of statements."""

from decimal import Decimal

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from service.market.goods.lots import Package
from service.records.goods import lots
from service.records.people import parties
from tests.factories import NOW, LabReportFactory, ListedLotFactory, LotFactory, PartyFactory, SpellFactory


def add(session: Session, count: int) -> list[str]:
    parties.add(session, PartyFactory(code="ALDER"))
    codes = []
    for number in range(count):
        lot = ListedLotFactory(
            code=f"ALDER-2026-{number:02d}",
            packages=(Package(kind="box", count=2, net_kg=Decimal("20")),),
            spells=(SpellFactory(), SpellFactory(stored_at_c=4.0)),
            reports=(LabReportFactory(code="R1"), LabReportFactory(code="R2")),
        )
        lots.add(session, lot, cultivar_key="WILLAMETTE")
        codes.append(lot.code)
    return codes


def test_many_lots_are_the_facts_that_one_by_one_gives(session: Session) -> None:
    codes = add(session, 3)
    lots.add(session, LotFactory(code="ALDER-2026-90", spells=()), cultivar_key="WILLAMETTE")
    codes.append("ALDER-2026-90")

    found = lots.get_many(session, [*codes, codes[0], "NOWHERE"], now=NOW)

    assert found == {code: lots.get(session, code, now=NOW) for code in codes}
    assert lots.get_many(session, ["NOWHERE"], now=NOW) == {}


@pytest.mark.parametrize("count", [1, 5])
def test_as_many_statements_for_one_lot_as_for_five(session: Session, count: int) -> None:
    codes = add(session, count)
    session.expire_all()
    statements = []

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        statements.append(statement)

    sa.event.listen(session.get_bind(), "before_cursor_execute", note)
    lots.get_many(session, codes, now=NOW)
    sa.event.remove(session.get_bind(), "before_cursor_execute", note)

    assert len(statements) == 6
