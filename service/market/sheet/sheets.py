"""Issued sheets: revisions, and whether a file or a fingerprint is still the current one."""

from collections.abc import Sequence
from datetime import date, datetime

from service.facts import Fact


class IssuedSheet(Fact, frozen=True, kw_only=True):
    """One issued revision of a lot's spec sheet; the file itself is read apart."""

    lot_code: str
    revision: int
    issued_on: date
    issued_at: datetime
    issued_by: str
    facts_sha256: str
    file_sha256: str


class Verification(Fact, frozen=True, kw_only=True):
    """What a file or a fingerprint turns out to be: `current`, `superseded` or `unknown`."""

    status: str
    sha256: str
    sheet: IssuedSheet | None = None
    current_revision: int | None = None


def verify(sha256: str, *, found: IssuedSheet | None, issued: Sequence[IssuedSheet]) -> Verification:
    """Judge a fingerprint against all that was issued of the same lot."""
    if found is None:
        return Verification(status="unknown", sha256=sha256)
    newest = max(issued, key=lambda sheet: sheet.revision)
    status = "current" if newest.revision == found.revision else "superseded"
    return Verification(status=status, sha256=sha256, sheet=found, current_revision=newest.revision)
