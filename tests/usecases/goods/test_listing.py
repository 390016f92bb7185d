"""Listing and withdrawing on real records: what the books and the search then hold."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from service.errors import IllegalStep, ListingIncomplete, NotAllowed, NotFound, TokenNeeded
from service.facts import replace
from service.market.people.access import ANYONE, Caller
from service.records.goods import lots
from service.records.goods.lots import get_row
from service.records.people import parties
from service.usecases.goods.listing import list_lot, withdraw_lot
from service.usecases.goods.lot_access import lot_to_see
from tests.factories import NOW, TODAY, LabReportFactory, LotFactory, PartyFactory

ALDER = Caller("grower", "ALDER")
PICKED, AHEAD = "ALDER-2026-01", "ALDER-2026-02"


@pytest.fixture(autouse=True)
def drafts(session: Session) -> None:
    parties.add(session, PartyFactory(code="ALDER"))
    lots.add(
        session, LotFactory(code=PICKED, reports=(LabReportFactory(code="R1"),)), cultivar_key="WILLAMETTE"
    )
    ahead = LotFactory(
        code=AHEAD,
        harvested_on=None,
        crop_year=None,
        mass_kg=None,
        spells=(),
        expected_kg=Decimal(90),
        harvest_window_from=TODAY,
        harvest_window_to=TODAY + timedelta(days=9),
    )
    lots.add(session, ahead, cultivar_key="WILLAMETTE")


def listed_as(session: Session, code: str, readiness: str, caller: Caller = ALDER) -> str | None:
    return list_lot(session, code, caller=caller, readiness=readiness, now=NOW).readiness


def test_a_listed_lot_is_seen_by_anybody_and_found_by_its_alpha(session: Session) -> None:
    with pytest.raises(NotFound):
        lot_to_see(session, PICKED, caller=ANYONE, now=NOW)

    assert listed_as(session, PICKED, "analysed") == "analysed"

    seen = lot_to_see(session, PICKED, caller=ANYONE, now=NOW)
    assert (seen.state, seen.first_listed_on) == ("listed", TODAY)
    assert get_row(session, PICKED).search_log_alpha is not None


def test_a_withdrawn_lot_leaves_nothing_in_the_search_and_comes_back(session: Session) -> None:
    listed_as(session, PICKED, "analysed")

    withdraw_lot(session, PICKED, caller=ALDER, now=NOW)

    hidden = lots.get(session, PICKED, now=NOW)
    assert (hidden.state, get_row(session, PICKED).search_log_alpha) == ("withdrawn", None)
    with pytest.raises(NotFound):
        lot_to_see(session, PICKED, caller=ANYONE, now=NOW)
    later = NOW + timedelta(days=30)
    again = list_lot(session, PICKED, caller=ALDER, readiness="analysed", now=later)
    assert again == replace(hidden, state="listed")
    assert again.first_listed_on == TODAY


def test_an_announced_lot_goes_forward_only(session: Session) -> None:
    assert listed_as(session, AHEAD, "announced") == "announced"
    with pytest.raises(ListingIncomplete) as refused:
        listed_as(session, AHEAD, "awaiting_analysis")
    assert refused.value.facts["missing"] == ["harvested_on", "mass_kg", "packing", "stored_at_c"]

    assert listed_as(session, PICKED, "awaiting_analysis") == "awaiting_analysis"
    assert listed_as(session, PICKED, "analysed") == "analysed"
    with pytest.raises(IllegalStep):
        listed_as(session, PICKED, "awaiting_analysis")
    assert lots.get(session, PICKED, now=NOW).readiness == "analysed"


def test_a_window_that_closed_is_no_announcement(session: Session) -> None:
    late = NOW + timedelta(days=10)

    with pytest.raises(ListingIncomplete) as refused:
        list_lot(session, AHEAD, caller=ALDER, readiness="announced", now=late)

    assert refused.value.facts["missing"] == ["harvested_on"]
    assert lots.get(session, AHEAD, now=NOW).state == "draft"
    # The last day of the window still belongs to it.
    assert list_lot(session, AHEAD, caller=ALDER, readiness="announced", now=late - timedelta(days=1))
    assert lots.get(session, AHEAD, now=NOW).first_listed_on == date(2026, 12, 4)


def test_only_its_grower_lists_and_withdraws(session: Session) -> None:
    listed_as(session, PICKED, "awaiting_analysis", Caller("specialist"))

    for caller, refusal in ((ANYONE, TokenNeeded), (Caller("grower", "ROWAN"), NotAllowed)):
        with pytest.raises(refusal):
            listed_as(session, PICKED, "analysed", caller)
        with pytest.raises(refusal):
            withdraw_lot(session, PICKED, caller=caller, now=NOW)
    with pytest.raises(NotFound):
        listed_as(session, AHEAD, "announced", Caller("grower", "ROWAN"))
    with pytest.raises(IllegalStep):
        withdraw_lot(session, AHEAD, caller=ALDER, now=NOW)
    assert lots.get(session, PICKED, now=NOW).readiness == "awaiting_analysis"
