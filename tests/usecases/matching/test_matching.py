"""Matching on real records."""

from datetime import date
from decimal import Decimal

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from service.errors import NotFound, TokenNeeded
from service.market.matching.search_figures import alpha_on, figures_to_keep
from service.market.people.access import ANYONE, Caller
from service.records.goods import lots
from service.records.matching import matching
from service.records.people import parties
from service.usecases.matching.matching import MatchPage, match_request
from service.usecases.matching.requests import place_request
from tests.factories import NOW, LabReportFactory, ListedLotFactory, PartyFactory

FINCH = Caller("brewery", "FINCH")
ON = date(2027, 2, 1)


@pytest.fixture(autouse=True)
def valley(session: Session) -> None:
    parties.add(session, PartyFactory(kind="grower", code="ALDER"))
    parties.add(session, PartyFactory(kind="brewery", code="FINCH"))
    for number, alpha_percent in enumerate((4.0, 5.0, 6.0)):
        lot = ListedLotFactory(
            code=f"ALDER-2026-0{number}", reports=(LabReportFactory(code="R1", alpha_percent=alpha_percent),)
        )
        lots.add(session, lot, cultivar_key="WILLAMETTE")
        lots.change(session, lot)


def ask(
    session: Session, *, after: tuple[float, str] | None = None, limit: int = 20, **told: object
) -> MatchPage:
    asked = {
        "role": "bittering",
        "deliveries": [{"needed_on": ON, "mass_kg": Decimal(60)}],
        "weights": {},
        **told,
    }
    placed = place_request(session, caller=FINCH, asked=asked, now=NOW)
    return match_request(session, placed.code, caller=FINCH, now=NOW, after=after, limit=limit)


def test_alpha_when_needed_is_what_the_search_shows_for_that_day(session: Session) -> None:
    page = ask(session, alpha_percent_min=5.0)

    (match,) = page.matches
    kept = figures_to_keep(lots.get(session, match.lot_code, now=NOW))
    assert match.lot_code == "ALDER-2026-02"
    assert match.alpha_percent_when_needed == alpha_on(kept, ON)
    assert [miss.lot_code for miss in page.near_misses] == ["ALDER-2026-01", "ALDER-2026-00"]


def test_lots_in_a_brewerys_store_take_as_many_statements_for_one_as_for_three(session: Session) -> None:
    store = {"kept_from": date(2026, 12, 20), "kept_at_c": 4.0, "kept_packing": "open"}
    said: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        said.append(statement)

    def asked(limit: int) -> tuple[int, int]:
        session.expire_all()
        said.clear()
        page = match_request(session, "FINCH-REQ-01", caller=FINCH, now=NOW, after=None, limit=limit)
        return len(page.matches), len(said)

    ask(session, **store)
    sa.event.listen(session.get_bind(), "before_cursor_execute", note)
    one, three = asked(1), asked(3)
    sa.event.remove(session.get_bind(), "before_cursor_execute", note)

    assert (one[0], three[0]) == (1, 3)
    assert one[1] == three[1] > 0


def test_a_synonym_of_the_cultivar_finds_its_lots(session: Session) -> None:
    assert len(ask(session, cultivars=["willamette"], accept_others=False).matches) == 3
    other = ask(session, cultivars=["Cascade"], accept_others=False)
    assert other.matches == []
    assert [miss.fails[0].limit for miss in other.near_misses] == ["cultivars"] * 3


def test_pages_go_on_where_the_last_one_ended(session: Session) -> None:
    first = ask(session, limit=2)
    second = ask(session, limit=2, after=first.position)

    assert [len(first.matches), len(second.matches)] == [2, 1]
    assert {m.lot_code for page in (first, second) for m in page.matches} == {
        f"ALDER-2026-0{n}" for n in range(3)
    }
    assert (second.position, second.near_misses) == (None, [])


def test_more_lots_than_are_compared_are_said(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(matching, "CANDIDATES_MAX", 2)

    page = ask(session)

    assert len(page.matches) == 2
    assert page.cautions == ["only the nearest 2 lots were compared; narrow the request"]


def test_matches_are_for_whom_the_request_is(session: Session) -> None:
    ask(session)

    with pytest.raises(NotFound):
        match_request(session, "FINCH-REQ-01", caller=Caller("grower", "ALDER"), now=NOW, after=None, limit=9)
    with pytest.raises(TokenNeeded):
        match_request(session, "FINCH-REQ-01", caller=ANYONE, now=NOW, after=None, limit=9)
