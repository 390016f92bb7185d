"""Certificate files: known by their content, beside the report of who filed it."""

from typing import Any

import pytest

from service.errors import NotAllowed, UnfitFile
from service.facts import replace
from service.market.goods.certificates import CertificateFile, accept_certificate, kind_of_file
from service.market.people.access import Caller
from tests.factories import NOW, LabReportFactory, ListedLotFactory

PDF = b"%PDF-1.7\n1 0 obj\nendobj\ntrailer\n%%EOF\n"
PNG = b"\x89PNG\r\n\x1a\n....IEND\xaeB\x60\x82"
JPEG = b"\xff\xd8\xff\xe0....\xff\xd9"
LOT, REPORT = ListedLotFactory(code="ALDER-2026-01"), LabReportFactory(code="R1")


@pytest.mark.parametrize(("content", "kind"), [(PDF, "pdf"), (PNG, "png"), (JPEG, "jpeg")])
def test_a_file_is_what_its_content_says(content: bytes, kind: str) -> None:
    assert kind_of_file(content) == kind


@pytest.mark.parametrize(
    "content",
    [b"", b"<html>", b"GIF89a", b"MZ\x90", PDF[:20], PNG[:-8], JPEG[:-2], b"junk" + PDF, b"PK\x03\x04"],
)
def test_what_is_none_or_cut_off_is_refused(content: bytes) -> None:
    with pytest.raises(UnfitFile):
        kind_of_file(content)


def accept(*before: CertificateFile, content: bytes = PDF, **told: Any) -> CertificateFile:
    plain: dict[str, Any] = {"sha256": "ab" * 32, "caller": Caller("grower", "ALDER"), "now": NOW}
    return accept_certificate(LOT, told.pop("report", REPORT), content, before=before, **plain | told)


def test_a_file_stands_beside_its_report_once() -> None:
    kept = accept()

    assert (kept.kind, kept.size_bytes, kept.added_by) == ("pdf", len(PDF), "grower:ALDER")
    assert accept(kept) is kept


def test_a_report_takes_five_files() -> None:
    before = [replace(accept(), sha256=f"{n:064d}") for n in range(5)]

    with pytest.raises(UnfitFile, match="5 files"):
        accept(*before)


def test_who_filed_the_report_or_the_specialist_attaches() -> None:
    buyers = LabReportFactory(code="R2", drawn_by="buyer", filed_for="brewery:FINCH")

    assert accept(caller=Caller("specialist")).added_by == "specialist"
    assert accept(report=buyers, caller=Caller("brewery", "FINCH")).report_code == "R2"
    for caller in (Caller("grower", "ALDER"), Caller("brewery", "TEAL")):
        with pytest.raises(NotAllowed):
            accept(report=buyers, caller=caller)
