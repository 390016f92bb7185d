"""Sheets in the books: previewed, issued, kept as handed out, verified."""

import hashlib
from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from service.errors import NotAllowed, NotFound, TokenNeeded
from service.market.people.access import ANYONE, Caller
from service.market.sheet.sheet_facts import LotSheetFacts
from service.market.sheet.sheets import IssuedSheet
from service.records.goods import lots
from service.records.people import parties
from service.records.sheet import sheets
from service.usecases.sheet.sheets import issue_sheet, issued_file, preview_facts, verify_sheet
from tests.factories import NOW, TODAY, LabReportFactory, ListedLotFactory, LotFactory, PartyFactory

ALDER, FINCH = Caller("grower", "ALDER"), Caller("brewery", "FINCH")
LOT, DRAFT, SEEDLING = "ALDER-2026-01", "ALDER-2026-02", "ALDER-2026-03"
ADDRESS = "https://hops.example.org/lots/ALDER-2026-01"


@pytest.fixture(autouse=True)
def books(session: Session) -> None:
    parties.add(session, PartyFactory(code="ALDER"))
    reports = (LabReportFactory(code="R1"),)
    for lot, key in (
        (ListedLotFactory(code=LOT, reports=reports), "WILLAMETTE"),
        (LotFactory(code=DRAFT, reports=reports), "WILLAMETTE"),
        (
            ListedLotFactory(code=SEEDLING, reports=reports, cultivar="Own Seedling 7", cultivar_code=None),
            "ownseedling7",
        ),
    ):
        lots.add(session, lot, cultivar_key=key)


def paper(facts: LotSheetFacts) -> bytes:
    """A file of its own for each set of facts."""
    return f"sheet {facts.revision} of {facts.fingerprint}".encode()


def issue(session: Session, caller: Caller = ALDER, *, days: int = 0, code: str = LOT) -> IssuedSheet:
    now = NOW + timedelta(days=days)
    return issue_sheet(session, code, caller=caller, now=now, address=ADDRESS, render=paper)


def preview(session: Session, code: str = LOT, caller: Caller = ANYONE) -> LotSheetFacts:
    return preview_facts(session, code, caller=caller, now=NOW, address=ADDRESS)


def test_a_preview_is_never_issued(session: Session) -> None:
    facts = preview(session)

    assert (facts.revision, facts.printed_on, facts.public_url) == (None, TODAY, ADDRESS)
    assert issued_file(session, LOT, caller=ANYONE, now=NOW) is None
    assert verify_sheet(session, sha256=facts.fingerprint).status == "unknown"
    assert preview(session, SEEDLING).published == ()


def test_an_issued_sheet_is_kept_as_it_was_handed_out(session: Session) -> None:
    sheet = issue(session)

    found = issued_file(session, LOT, caller=ANYONE, now=NOW)
    assert found is not None
    revision, file = found
    assert (revision, hashlib.sha256(file).hexdigest()) == (1, sheet.file_sha256)
    assert file == f"sheet 1 of {sheet.facts_sha256}".encode()
    assert (sheet.issued_on, sheet.issued_at, sheet.issued_by) == (TODAY, NOW, "grower:ALDER")
    assert sheets.search(session, LOT) == [sheet]


def test_revisions_count_on_and_the_newest_is_current(session: Session) -> None:
    first, second = issue(session), issue(session, Caller("specialist"), days=3)

    assert (first.revision, second.revision, second.issued_by) == (1, 2, "specialist")
    assert (second.issued_on, second.file_sha256 == first.file_sha256) == (TODAY + timedelta(days=3), False)
    found = issued_file(session, LOT, caller=FINCH, now=NOW)
    assert found is not None
    assert found[0] == 2
    for sheet, status in ((first, "superseded"), (second, "current")):
        for sha256 in (sheet.file_sha256, sheet.facts_sha256):
            verified = verify_sheet(session, sha256=sha256)
            assert (verified.status, verified.sheet, verified.current_revision) == (status, sheet, 2)


def test_a_fingerprint_of_nothing_is_unknown(session: Session) -> None:
    issue(session)

    verified = verify_sheet(session, sha256="0" * 64)

    assert (verified.status, verified.sheet, verified.current_revision) == ("unknown", None, None)


def test_only_its_grower_issues(session: Session) -> None:
    for caller, refusal in (
        (ANYONE, TokenNeeded),
        (FINCH, NotAllowed),
        (Caller("grower", "ROWAN"), NotAllowed),
    ):
        with pytest.raises(refusal):
            issue(session, caller)

    assert sheets.search(session, LOT) == []


def test_a_draft_shows_its_sheet_to_its_grower_only(session: Session) -> None:
    issue(session, code=DRAFT)

    assert preview(session, DRAFT, ALDER).view.lot.code == DRAFT
    assert issued_file(session, DRAFT, caller=ALDER, now=NOW) is not None
    with pytest.raises(NotFound):
        preview(session, DRAFT, FINCH)
    with pytest.raises(NotFound):
        issued_file(session, DRAFT, caller=ANYONE, now=NOW)


def test_a_sheet_that_cannot_be_drawn_is_not_issued(session: Session) -> None:
    def broken(_facts: LotSheetFacts) -> bytes:
        raise RuntimeError("no paper")

    with pytest.raises(RuntimeError, match="no paper"):
        issue_sheet(session, LOT, caller=ALDER, now=NOW, address=ADDRESS, render=broken)

    assert sheets.search(session, LOT) == []
