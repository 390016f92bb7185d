"""Whether a fingerprint is that of the current sheet."""

from datetime import date

from service.market.sheet.sheets import IssuedSheet, verify
from tests.factories import NOW


def sheet(revision: int) -> IssuedSheet:
    """A revision."""
    return IssuedSheet(
        lot_code="ALDER-2026-01",
        revision=revision,
        issued_on=date(2026, 11, 25),
        issued_at=NOW,
        issued_by="grower:ALDER",
        facts_sha256=f"facts{revision}",
        file_sha256=f"file{revision}",
    )


def test_the_newest_revision_is_current_and_the_others_superseded() -> None:
    issued = [sheet(1), sheet(2)]

    assert verify("file2", found=sheet(2), issued=issued).status == "current"
    old = verify("file1", found=sheet(1), issued=issued)
    assert (old.status, old.current_revision) == ("superseded", 2)


def test_what_was_never_issued_is_unknown() -> None:
    assert verify("x", found=None, issued=[]).status == "unknown"
