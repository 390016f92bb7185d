"""The storage outlook of a lot in the books: whose lot, which day, which plan."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from service.errors import InvalidRequest, NoStorageModel, NotFound
from service.market.people.access import ANYONE, Caller
from service.market.storage.storage import StorageOutlook, StoragePlan, storage_outlook
from service.records.goods import lots
from service.records.people import parties
from service.reference.six_month_storage import six_month_loss
from service.usecases.storage.storage import storage_of_lot
from tests.factories import NOW, TODAY, LabReportFactory, ListedLotFactory, LotFactory, PartyFactory

LISTED, DRAFT, WET = "ALDER-2026-01", "ALDER-2026-02", "ALDER-2026-03"


@pytest.fixture(autouse=True)
def lots_in_the_books(session: Session) -> None:
    parties.add(session, PartyFactory(code="ALDER"))
    report = LabReportFactory(code="R1")
    for lot in (
        ListedLotFactory(code=LISTED, reports=(report,)),
        LotFactory(code=DRAFT, reports=(report,)),
        ListedLotFactory(code=WET, form="wet_hop", reports=(report,)),
    ):
        lots.add(session, lot, cultivar_key="WILLAMETTE")


def outlook(
    session: Session,
    code: str = LISTED,
    *,
    caller: Caller = ANYONE,
    on: date | None = None,
    plan: StoragePlan | None = None,
) -> StorageOutlook:
    return storage_of_lot(session, code, caller=caller, on=on, plan=plan, now=NOW)


def test_without_a_day_it_is_today(session: Session) -> None:
    found = outlook(session)

    assert found == outlook(session, on=TODAY)
    assert (found.lot_code, found.on, found.report) == (LISTED, TODAY, "R1")
    assert found == storage_outlook(
        lots.get(session, LISTED, now=NOW), on=TODAY, loss=six_month_loss("Willamette")
    )


@settings(max_examples=15)
@given(st.integers(0, 700), st.integers(1, 100))
def test_a_later_day_leaves_less(session: Session, days: int, more: int) -> None:
    sooner = outlook(session, on=TODAY + timedelta(days=days)).alpha_percent
    later = outlook(session, on=TODAY + timedelta(days=days + more)).alpha_percent

    assert later.estimate < sooner.estimate
    assert later.low <= later.estimate <= later.high


def test_a_buyers_plan_counts_from_its_day(session: Session) -> None:
    on, warm = TODAY + timedelta(days=120), StoragePlan(from_on=TODAY, kept_at_c=20.0, packing="open")

    planned, plain = outlook(session, on=on, plan=warm), outlook(session, on=on)

    assert planned.alpha_percent.estimate < plain.alpha_percent.estimate
    assert outlook(session, on=TODAY, plan=warm).alpha_percent == outlook(session, on=TODAY).alpha_percent
    # A plan is a question: the books keep nothing of it.
    assert outlook(session, on=on) == plain


def test_a_draft_is_for_its_grower(session: Session) -> None:
    alder = Caller("grower", "ALDER")

    assert outlook(session, DRAFT, caller=alder).alpha_percent == outlook(session).alpha_percent
    for caller in (ANYONE, Caller("brewery", "FINCH")):
        with pytest.raises(NotFound):
            outlook(session, DRAFT, caller=caller)


def test_what_cannot_be_reckoned_is_refused(session: Session) -> None:
    early = StoragePlan(from_on=date(2026, 8, 1), kept_at_c=4.0, packing="open")

    with pytest.raises(NoStorageModel):
        outlook(session, WET)
    with pytest.raises(InvalidRequest, match="before it"):
        outlook(session, on=date(2026, 9, 2))
    with pytest.raises(InvalidRequest, match="the plan begins"):
        outlook(session, plan=early)
