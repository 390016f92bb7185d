"""Breweries' own utilizations go into the records and come out the same."""

from datetime import date

import pytest
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.market.brewing.calibrations import PastBrew
from service.records.brewing import calibrations
from service.records.people import parties
from service.science.brewhouse import BrewhouseFit
from tests.factories import NOW, PartyFactory

FIT = BrewhouseFit("tinseth", "estimated", 1.1, 0.9, True, 1, 0.05)
BREWS = (
    PastBrew(
        brewed_on=date(2026, 5, 2),
        measured_bu=33.0,
        boil_ibu=30.0,
        whirlpool_ibu=2.5,
        told={"wort": {"volume_l": 20.0}},
    ),
)


def test_a_fit_comes_out_as_it_went_in(session: Session) -> None:
    parties.add(session, PartyFactory(kind="brewery", code="FINCH"))

    made = calibrations.add(
        session, brewery_code="FINCH", fit=FIT, brews=BREWS, note="own", made_at=NOW, made_by="brewery:FINCH"
    )
    session.expire_all()

    assert made.code == "U1"
    assert (made.fit, made.brews) == (FIT, BREWS)
    assert calibrations.search(session, "FINCH") == [made]
    assert calibrations.search(session, "WREN") == []


def test_fits_come_oldest_first_and_of_many_the_newest(session: Session) -> None:
    parties.add(session, PartyFactory(kind="brewery", code="FINCH"))
    for _ in range(3):
        calibrations.add(
            session, brewery_code="FINCH", fit=FIT, brews=BREWS, note=None, made_at=NOW, made_by="specialist"
        )

    assert [fit.code for fit in calibrations.search(session, "FINCH")] == ["U1", "U2", "U3"]
    assert [fit.code for fit in calibrations.search(session, "FINCH", limit=2)] == ["U2", "U3"]


def test_nobody_else_has_a_brewerys_fit(session: Session) -> None:
    with pytest.raises(NotFound):
        calibrations.add(
            session, brewery_code="FINCH", fit=FIT, brews=BREWS, note=None, made_at=NOW, made_by="specialist"
        )
