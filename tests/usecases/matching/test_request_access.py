"""Who may know of a request."""

import pytest
from sqlalchemy.orm import Session

from service.errors import NotFound, TokenNeeded
from service.market.matching.requests import Delivery, Request
from service.market.people.access import ANYONE, Caller
from service.records.matching import requests
from service.records.people import parties
from service.usecases.matching.request_access import request_to_see
from tests.factories import NOW, TODAY, PartyFactory

WANTED = Request(
    code="FINCH-REQ-01",
    brewery_code="FINCH",
    role="aroma",
    deliveries=(Delivery(needed_on=TODAY, mass_kg=1),),
    made_at=NOW,
)


@pytest.fixture(autouse=True)
def books(session: Session) -> None:
    parties.add(session, PartyFactory(kind="brewery", code="FINCH"))
    requests.add(session, WANTED)


@pytest.mark.parametrize("caller", [Caller("brewery", "FINCH"), Caller("specialist")], ids=lambda v: v.name)
def test_its_brewery_and_the_specialist_see_it(session: Session, caller: Caller) -> None:
    assert request_to_see(session, "FINCH-REQ-01", caller=caller).code == "FINCH-REQ-01"
    assert request_to_see(session, "FINCH-REQ-01", caller=caller, lock=True).brewery_code == "FINCH"


@pytest.mark.parametrize(
    "caller", [Caller("brewery", "TEAL"), Caller("grower", "FINCH")], ids=lambda v: v.name
)
def test_to_everybody_else_it_does_not_exist(session: Session, caller: Caller) -> None:
    for code in ("FINCH-REQ-01", "FINCH-REQ-99"):
        with pytest.raises(NotFound, match=f"there is no request {code}"):
            request_to_see(session, code, caller=caller)


def test_without_a_token_nothing_is_said(session: Session) -> None:
    with pytest.raises(TokenNeeded):
        request_to_see(session, "FINCH-REQ-01", caller=ANYONE)
