"""Issued sheets in the records."""

from datetime import timedelta

import pytest
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.facts import replace
from service.market.sheet.sheets import IssuedSheet
from service.records.goods import lots
from service.records.people import parties
from service.records.sheet import sheets
from tests.factories import NOW, TODAY, ListedLotFactory, PartyFactory

FIRST = IssuedSheet(
    lot_code="ALDER-2026-01",
    revision=1,
    issued_on=TODAY,
    issued_at=NOW,
    issued_by="grower:ALDER",
    facts_sha256="fa" * 32,
    file_sha256="f1" * 32,
)
SECOND = replace(
    FIRST,
    revision=2,
    issued_on=TODAY + timedelta(days=9),
    issued_at=NOW + timedelta(days=9),
    file_sha256="f2" * 32,
)
OTHER = replace(FIRST, lot_code="ALDER-2026-02", facts_sha256="0a" * 32, file_sha256="01" * 32)


@pytest.fixture(autouse=True)
def two_lots(session: Session) -> None:
    parties.add(session, PartyFactory(code="ALDER"))
    for code in ("ALDER-2026-01", "ALDER-2026-02"):
        lots.add(session, ListedLotFactory(code=code), cultivar_key="WILLAMETTE")


def issue(session: Session) -> None:
    """Issue the newer one first: the order of writing is not the order of revisions."""
    sheets.add(session, SECOND, file=b"%PDF second \x00\xff")
    sheets.add(session, FIRST, file=b"%PDF first")
    sheets.add(session, OTHER, file=b"%PDF other")
    session.expire_all()


def test_sheets_of_a_lot_come_back_as_they_went_in_oldest_first(session: Session) -> None:
    issue(session)

    assert sheets.search(session, "ALDER-2026-01") == [FIRST, SECOND]
    assert sheets.search(session, "ALDER-2026-02") == [OTHER]
    assert sheets.search(session, "ALDER-2026-03") == []


def test_the_file_is_that_of_the_newest_revision_byte_for_byte(session: Session) -> None:
    assert sheets.find_file(session, "ALDER-2026-01") is None

    issue(session)

    assert sheets.find_file(session, "ALDER-2026-01") == (2, b"%PDF second \x00\xff")
    assert sheets.find_file(session, "ALDER-2026-02") == (1, b"%PDF other")


def test_a_fingerprint_of_a_file_finds_its_own_revision(session: Session) -> None:
    issue(session)

    assert sheets.find_by_sha256(session, "f1" * 32) == FIRST
    assert sheets.find_by_sha256(session, "f2" * 32) == SECOND
    assert sheets.find_by_sha256(session, "0a" * 32) == OTHER
    assert sheets.find_by_sha256(session, "ee" * 32) is None


def test_facts_that_were_issued_twice_find_the_sheet_issued_last(session: Session) -> None:
    sheets.add(session, FIRST, file=b"1")
    assert sheets.find_by_sha256(session, FIRST.facts_sha256) == FIRST

    sheets.add(session, SECOND, file=b"2")

    assert sheets.find_by_sha256(session, FIRST.facts_sha256) == SECOND


def test_a_sheet_is_of_a_lot_in_the_books(session: Session) -> None:
    with pytest.raises(NotFound, match="there is no lot ALDER-2026-99"):
        sheets.add(session, replace(FIRST, lot_code="ALDER-2026-99"), file=b"1")


def test_the_database_refuses_a_revision_twice(session: Session) -> None:
    sheets.add(session, FIRST, file=b"1")

    with pytest.raises(IntegrityError), session.begin_nested():
        sheets.add(session, replace(FIRST, file_sha256="f9" * 32), file=b"2")


def test_the_database_keeps_a_lot_whose_sheet_was_handed_out(session: Session) -> None:
    issue(session)

    with pytest.raises(IntegrityError), session.begin_nested():
        lots.remove(session, "ALDER-2026-01")
