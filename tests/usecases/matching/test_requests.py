"""Placing, revising and withdrawing requests."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from service.errors import IllegalStep, InvalidRequest, NotAllowed, NotFound, PreconditionStale, TokenNeeded
from service.facts import replace
from service.market.matching.requests import Request
from service.market.people.access import ANYONE, Caller
from service.records.matching import requests
from service.records.people import parties
from service.usecases.matching.requests import (
    list_requests,
    place_request,
    revise_request,
    show_request,
    withdraw_request,
)
from tests.factories import NOW, PartyFactory

FINCH = Caller("brewery", "FINCH")
ASKED = {
    "role": "aroma",
    "cultivars": ["saazer", "Saaz", "Own Seedling 7"],
    "deliveries": [{"needed_on": date(2027, 2, 1), "mass_kg": Decimal(60)}],
    "forms": [],
    "packings": [],
    "weights": {},
}


@pytest.fixture(autouse=True)
def breweries(session: Session) -> None:
    for code in ("FINCH", "TEAL"):
        parties.add(session, PartyFactory(kind="brewery", code=code))


def place(session: Session, caller: Caller = FINCH, **told: object) -> Request:
    return place_request(session, caller=caller, asked={**ASKED, **told}, now=NOW)


def unchanged(_request: Request) -> None:
    """Let any version pass."""


def test_a_request_is_kept_with_its_cultivars_by_denomination(session: Session) -> None:
    placed = place(session)

    assert placed.cultivars == ("Saazer", "Own Seedling 7")
    assert (placed.code, placed.made_by, placed.made_at) == ("FINCH-REQ-01", "brewery:FINCH", NOW)
    assert requests.get(session, "FINCH-REQ-01") == placed


def test_nothing_is_kept_of_what_is_refused(session: Session) -> None:
    for caller, told, refusal in (
        (ANYONE, {}, TokenNeeded),
        (Caller("grower", "ALDER"), {}, NotAllowed),
        (FINCH, {"brewery_code": "TEAL"}, NotAllowed),
        (Caller("specialist"), {"brewery_code": "NOBODY"}, NotFound),
        (Caller("specialist"), {}, InvalidRequest),
        (FINCH, {"cultivars": ["Hallertau"]}, InvalidRequest),
        (FINCH, {"deliveries": [{"needed_on": date(2026, 1, 1), "mass_kg": Decimal(1)}]}, InvalidRequest),
    ):
        with pytest.raises(refusal):
            place(session, caller, **told)

    assert (
        requests.search(session, brewery_code=None, state=None, today=NOW.date(), after=None, limit=9) == []
    )


def test_a_change_is_judged_and_written(session: Session) -> None:
    placed = place(session, weights={"price": 1.0})

    changed = revise_request(
        session,
        placed.code,
        caller=FINCH,
        changes={"weights": {"oil": 2.0, "price": None}, "cultivars": []},
        now=NOW,
        unless_changed=unchanged,
    )

    assert changed == replace(placed, weights={"oil": 2.0}, cultivars=())
    assert requests.get(session, placed.code) == changed
    with pytest.raises(InvalidRequest):
        revise_request(
            session,
            placed.code,
            caller=FINCH,
            changes={"alpha_percent_min": 9.0, "alpha_percent_max": 8.0},
            now=NOW,
            unless_changed=unchanged,
        )


def test_a_lapsed_request_opens_again_with_a_new_day(session: Session) -> None:
    placed = place(session)
    later = NOW + timedelta(days=120)
    wanted = [{"needed_on": later.date(), "mass_kg": Decimal(60)}]

    with pytest.raises(InvalidRequest, match="last day needed has passed"):
        revise_request(
            session, placed.code, caller=FINCH, changes={"note": "x"}, now=later, unless_changed=unchanged
        )
    again = revise_request(
        session,
        placed.code,
        caller=FINCH,
        changes={"deliveries": wanted},
        now=later,
        unless_changed=unchanged,
    )

    assert again.shown_state(later.date()) == "open"


def test_a_stale_version_changes_nothing(session: Session) -> None:
    placed = place(session)

    def stale(_request: Request) -> None:
        raise PreconditionStale("it changed")

    with pytest.raises(PreconditionStale):
        revise_request(
            session, placed.code, caller=FINCH, changes={"note": "x"}, now=NOW, unless_changed=stale
        )
    with pytest.raises(PreconditionStale):
        withdraw_request(session, placed.code, caller=FINCH, unless_changed=stale)
    assert show_request(session, placed.code, caller=FINCH) == placed


def test_a_withdrawn_request_moves_no_more(session: Session) -> None:
    placed = place(session)

    withdraw_request(session, placed.code, caller=FINCH, unless_changed=unchanged)

    assert show_request(session, placed.code, caller=FINCH).state == "withdrawn"
    with pytest.raises(IllegalStep):
        withdraw_request(session, placed.code, caller=FINCH, unless_changed=unchanged)


def test_everybody_lists_their_own(session: Session) -> None:
    place(session)
    place(session, Caller("brewery", "TEAL"))

    def listed(caller: Caller) -> list[str]:
        found = list_requests(session, caller=caller, state=None, after=None, limit=9, now=NOW)
        return [request.code for request, _ in found]

    assert listed(FINCH) == ["FINCH-REQ-01"]
    assert listed(Caller("specialist")) == ["TEAL-REQ-01", "FINCH-REQ-01"]
    assert listed(Caller("grower", "FINCH")) == []
    with pytest.raises(TokenNeeded):
        listed(ANYONE)
