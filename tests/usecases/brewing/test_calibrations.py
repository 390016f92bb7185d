"""A brewery learns its own utilization; what is refused leaves nothing behind."""

from datetime import date
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.errors import NotAllowed, NotFound, TokenNeeded, UnfitBrews
from service.market.people.access import ANYONE, Caller
from service.records.people import parties
from service.usecases.brewing.calibrations import learn_utilization, list_utilizations
from tests.factories import NOW, PartyFactory

FINCH, WREN = Caller("brewery", "FINCH"), Caller("brewery", "WREN")


def brew(mass_g: float, measured_bu: float) -> dict[str, Any]:
    addition = {"alpha_percent": 10.0, "mass_g": mass_g, "at": "boil", "minutes": 60.0}
    return {
        "brewed_on": date(2026, 5, 2),
        "measured_bu": measured_bu,
        "wort": {"volume_l": 20.0, "gravity_sg": 1.05},
        "additions": [addition],
    }


BREWS = [brew(30.0, 38.06), brew(20.0, 25.8), brew(40.0, 49.9)]


def learn(session: Session, caller: Caller = FINCH, **told: Any):  # type: ignore[no-untyped-def]
    asked = {"base_model": "tinseth", "alpha_basis": "as_analysed", "brews": BREWS, **told}
    return learn_utilization(session, "FINCH", caller=caller, asked=asked, now=NOW)


@pytest.fixture
def brewery_session(session: Session) -> Session:
    parties.add(session, PartyFactory(kind="brewery", code="FINCH"))
    return session


def test_a_fit_is_kept_with_who_made_it_and_the_brews_as_told(brewery_session: Session) -> None:
    made = learn(brewery_session, note="spring")

    assert list_utilizations(brewery_session, "FINCH", caller=FINCH) == [made]
    assert (made.code, made.made_by, made.note) == ("U1", "brewery:FINCH", "spring")
    assert made.brews[0].told["additions"] == BREWS[0]["additions"]


def test_a_refused_fit_leaves_nothing(brewery_session: Session) -> None:
    with pytest.raises(UnfitBrews):
        learn(brewery_session, brews=BREWS[:2])

    assert list_utilizations(brewery_session, "FINCH", caller=FINCH) == []


@pytest.mark.parametrize(("caller", "refusal"), [(ANYONE, TokenNeeded), (WREN, NotAllowed)])
def test_fits_are_the_brewerys_own(
    brewery_session: Session, caller: Caller, refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        learn(brewery_session, caller)
    with pytest.raises(refusal):
        list_utilizations(brewery_session, "FINCH", caller=caller)


def test_a_brewery_that_is_not_there_learns_nothing(session: Session) -> None:
    with pytest.raises(NotFound):
        learn(session, Caller("specialist"))
