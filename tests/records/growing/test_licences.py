"""Declared licences in the records."""

from datetime import date

import pytest
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.facts import replace
from service.market.growing.licences import Licence
from service.records.goods import lots
from service.records.growing import licences
from service.records.people import parties
from tests.factories import NOW, LotFactory, PartyFactory

LICENCE = Licence(
    grower_code="ALDER",
    cultivar="Willamette",
    cultivar_key="WILLAMETTE",
    licensor="Heron Breeding",
    number="HB-9",
    valid_until=date(2026, 12, 31),
    declared_at=NOW,
    declared_by="grower:ALDER",
)


@pytest.fixture(autouse=True)
def people(session: Session) -> None:
    for code in ("ALDER", "ROWAN"):
        parties.add(session, PartyFactory(code=code))


def test_a_declaration_comes_back_as_it_went_in(session: Session) -> None:
    first = licences.add(session, LICENCE)
    second = licences.add(session, replace(LICENCE, valid_until=None))
    session.expire_all()

    assert (first.code, second.code) == ("L1", "L2")
    assert licences.search(session, "ALDER") == [first, second]
    assert licences.get(session, "ALDER", "L2") == second
    for code in ("L3", "L", "X1", "L99999999999999999999"):
        with pytest.raises(NotFound):
            licences.get(session, "ALDER", code)


def test_lots_carry_the_declarations_of_their_grower_and_cultivar(session: Session) -> None:
    for code, grower, key in (
        ("A1", "ALDER", "WILLAMETTE"),
        ("A2", "ALDER", "FUGGLE"),
        ("R1", "ROWAN", "WILLAMETTE"),
    ):
        lots.add(session, LotFactory(code=code, grower_code=grower), cultivar_key=key)
    asked = [LotFactory(code=code) for code in ("A1", "A2", "R1")]
    kept = licences.add(session, LICENCE)

    assert licences.search_of_lots(session, asked) == {"A1": [kept]}

    ended = replace(kept, ended_at=NOW, ended_by="specialist")
    licences.change(session, ended)
    session.expire_all()

    assert licences.search_of_lots(session, asked) == {}
    assert licences.get(session, "ALDER", "L1") == ended
    assert licences.search_of_lots(session, []) == {}
