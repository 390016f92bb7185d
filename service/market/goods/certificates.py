"""Certificate files beside a lab report: what kind they are by their content, and whether they may be kept."""

from collections.abc import Sequence
from datetime import datetime

from service.errors import NotAllowed, UnfitFile
from service.facts import Fact
from service.market.goods.lab_reports import LabReport
from service.market.goods.lots import Lot
from service.market.people.access import Caller

MIME_OF = {"pdf": "application/pdf", "png": "image/png", "jpeg": "image/jpeg"}
FILES_MAX = 5
PNG_BEGIN, PNG_END = b"\x89PNG\r\n\x1a\n", b"IEND\xaeB\x60\x82"


class CertificateFile(Fact, frozen=True, kw_only=True):
    """A file as it was handed in; `sha256` is its name for good."""

    lot_code: str
    report_code: str
    sha256: str
    kind: str
    size_bytes: int
    added_at: datetime
    added_by: str


def kind_of_file(content: bytes) -> str:
    """Tell a file's kind by its content, whatever its name or its sender says.

    Raises:
        UnfitFile: it is empty, cut off, or neither PDF, PNG nor JPEG.

    >>> kind_of_file(b"%PDF-1.7 ... %%EOF")
    'pdf'

    """
    if not content:
        raise UnfitFile("the file is empty", kind=None)
    if content.startswith(b"%PDF-"):
        if b"%%EOF" in content[-2048:]:
            return "pdf"
        raise UnfitFile("the PDF is cut off: its end is missing", kind="pdf")
    if content.startswith(PNG_BEGIN):
        if content.rstrip(b"\x00\r\n").endswith(PNG_END):
            return "png"
        raise UnfitFile("the PNG is cut off: its end is missing", kind="png")
    if content.startswith(b"\xff\xd8\xff"):
        if b"\xff\xd9" in content[-64:]:
            return "jpeg"
        raise UnfitFile("the JPEG is cut off: its end is missing", kind="jpeg")
    raise UnfitFile("a certificate is a PDF, PNG or JPEG file, and this is none by its content", kind=None)


def accept_certificate(
    lot: Lot,
    report: LabReport,
    content: bytes,
    *,
    sha256: str,
    before: Sequence[CertificateFile],
    caller: Caller,
    now: datetime,
) -> CertificateFile:
    """Let a file stand beside a report; the same file twice is one.

    Raises:
        NotAllowed: the report was filed for somebody else.
        UnfitFile: as `kind_of_file`, or the report has five files already.

    """
    kind, _, party = report.filed_for.partition(":")
    if not caller.acts_for(kind, party):
        raise NotAllowed(f"report {report.code} of lot {lot.code} was filed for {report.filed_for}")
    known = next((file for file in before if file.sha256 == sha256), None)
    if known is not None:
        return known
    if len(before) >= FILES_MAX:
        raise UnfitFile(f"report {report.code} has {FILES_MAX} files already", kind=None)
    return CertificateFile(
        lot_code=lot.code,
        report_code=report.code,
        sha256=sha256,
        kind=kind_of_file(content),
        size_bytes=len(content),
        added_at=now,
        added_by=caller.name,
    )
