"""Measured brews go into the records and come out the same, newest first."""

from datetime import date, timedelta

import pytest
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.facts import replace
from service.market.brewing.calibrations import MeasuredBrew
from service.records.brewing import measured_brews
from service.records.people import parties
from tests.factories import NOW, PartyFactory

BREW = MeasuredBrew(
    code="FINCH-BREW-01",
    brewery_code="FINCH",
    brewed_on=date(2026, 5, 2),
    measured_bu=33.0,
    told={"wort": {"volume_l": 20.0, "gravity_sg": 1.05}, "additions": [{"mass_g": 30.0, "at": "boil"}]},
    hops=({"form": "pellet", "estimated": 9.4, "as_analysed": 10.0},),
    note="own",
    filed_at=NOW,
    filed_by="brewery:FINCH",
)


@pytest.fixture
def brewery_session(session: Session) -> Session:
    for code in ("FINCH", "WREN"):
        parties.add(session, PartyFactory(kind="brewery", code=code))
    return session


def test_a_brew_comes_out_as_it_went_in(brewery_session: Session) -> None:
    measured_brews.add(brewery_session, BREW)
    brewery_session.expire_all()

    assert measured_brews.newest(brewery_session, "FINCH", limit=10) == [BREW]
    assert measured_brews.newest(brewery_session, "WREN", limit=10) == []
    assert measured_brews.count(brewery_session, "FINCH") == 1
    assert measured_brews.count(brewery_session, "WREN") == 0


def test_brews_come_newest_filed_first_and_page_by_page(brewery_session: Session) -> None:
    for number, minutes in ((1, 0), (2, 5), (3, 5), (4, 9)):
        filed_at = NOW + timedelta(minutes=minutes)
        measured_brews.add(brewery_session, replace(BREW, code=f"FINCH-BREW-0{number}", filed_at=filed_at))

    first = measured_brews.newest(brewery_session, "FINCH", limit=2)
    after = (first[-1].filed_at, first[-1].code)
    second = measured_brews.newest(brewery_session, "FINCH", after=after, limit=2)

    assert [brew.code[-1] for brew in (*first, *second)] == ["4", "3", "2", "1"]


def test_a_brew_that_is_taken_back_is_gone_and_its_code_is_not_given_again(brewery_session: Session) -> None:
    code = measured_brews.next_code(brewery_session, "FINCH")
    measured_brews.add(brewery_session, replace(BREW, code=code))

    measured_brews.remove(brewery_session, "FINCH", code)

    assert measured_brews.count(brewery_session, "FINCH") == 0
    assert measured_brews.next_code(brewery_session, "FINCH") != code


def test_nobody_takes_back_anothers_brew(brewery_session: Session) -> None:
    measured_brews.add(brewery_session, BREW)

    for brewery, code in (("WREN", BREW.code), ("FINCH", "FINCH-BREW-09")):
        with pytest.raises(NotFound):
            measured_brews.remove(brewery_session, brewery, code)
