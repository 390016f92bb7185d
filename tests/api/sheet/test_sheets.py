"""Spec sheets over HTTP: preview, issue, verification."""

import hashlib
import io

import pypdf

from tests.builders import World


def text_of(file: bytes) -> str:
    """The words of a PDF."""
    return " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(file)).pages)


def test_an_unissued_sheet_is_a_preview_and_says_so(world: World) -> None:
    world.grower("ALDER")
    code = world.listed()

    answer = world.get(f"/v1/lots/{code}/sheet.pdf")

    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
    assert "PREVIEW" in text_of(answer.data)
    assert code in text_of(answer.data)
    assert world.get(f"/v1/lots/{code}/sheet.pdf").data == answer.data


def test_an_issued_sheet_is_what_was_handed_out_even_after_the_lot_changed(world: World) -> None:
    world.grower("ALDER")
    code = world.listed()

    issued = world.post(f"/v1/lots/{code}/sheets", {}, who="ALDER")
    first = world.get(f"/v1/lots/{code}/sheet.pdf")
    world.report(code, sampled_on="2026-10-01", analysed_on="2026-10-05", alpha_percent=5.1)
    unchanged = world.get(f"/v1/lots/{code}/sheet.pdf")
    preview = world.get(f"/v1/lots/{code}/sheet.pdf", preview="true")

    assert issued.status_code == 201
    assert (issued.json["revision"], issued.json["issued_on"]) == (1, "2026-11-25")
    assert hashlib.sha256(first.data).hexdigest() == issued.json["file_sha256"]
    assert "PREVIEW" not in text_of(first.data)
    assert issued.json["facts_sha256"] in text_of(first.data).replace(" ", "")
    assert unchanged.data == first.data
    assert "PREVIEW" in text_of(preview.data)


def test_a_fingerprint_is_current_then_superseded_and_otherwise_unknown(world: World) -> None:
    world.grower("ALDER")
    code = world.listed()
    first = world.post(f"/v1/lots/{code}/sheets", {}, who="ALDER").json
    world.report(code, sampled_on="2026-10-01", analysed_on="2026-10-05", alpha_percent=5.1)

    for name in ("file_sha256", "facts_sha256"):
        assert world.get(f"/v1/sheets/{first[name]}").json["status"] == "current"
    world.post(f"/v1/lots/{code}/sheets", {"paper": "letter"}, who="ALDER")
    superseded = world.get(f"/v1/sheets/{first['file_sha256']}").json

    assert superseded == {
        "status": "superseded",
        "sha256": first["file_sha256"],
        "lot_code": code,
        "revision": 1,
        "issued_on": "2026-11-25",
        "current_revision": 2,
    }
    assert world.get(f"/v1/sheets/{'0' * 64}").json["status"] == "unknown"


def test_sheets_are_issued_by_the_lots_grower_alone(world: World) -> None:
    world.grower("ALDER")
    world.grower("ROWAN")
    code, draft = world.listed(), world.draft()

    assert world.post(f"/v1/lots/{code}/sheets", {}, who="ROWAN").status_code == 403
    assert world.post(f"/v1/lots/{code}/sheets", {}).status_code == 401
    assert world.get(f"/v1/lots/{draft}/sheet.pdf").status_code == 404
    assert world.get(f"/v1/lots/{draft}/sheet.pdf", who="ALDER").status_code == 200


def test_a_preview_comes_on_the_paper_that_is_asked_for(world: World) -> None:
    world.grower("ALDER")
    code = world.listed()

    letter = pypdf.PdfReader(io.BytesIO(world.get(f"/v1/lots/{code}/sheet.pdf", paper="letter").data))
    a4 = pypdf.PdfReader(io.BytesIO(world.get(f"/v1/lots/{code}/sheet.pdf", paper="a4").data))

    assert [round(float(x)) for x in letter.pages[0].mediabox[2:]] == [612, 792]
    assert [round(float(x)) for x in a4.pages[0].mediabox[2:]] == [595, 842]
    assert world.get(f"/v1/lots/{code}/sheet.pdf", paper="a5").status_code == 422


def test_a_draft_of_which_a_sheet_was_handed_out_stays_in_the_books(world: World) -> None:
    world.grower("ALDER")
    code = world.draft()
    world.post(f"/v1/lots/{code}/sheets", {}, who="ALDER")

    answer = world.delete(f"/v1/lots/{code}", who="ALDER")

    assert (answer.status_code, answer.json["type"]) == (409, "/problems/illegal-step")
    assert world.get(f"/v1/lots/{code}", who="ALDER").status_code == 200


def test_a_file_is_verified_by_its_bytes(world: World) -> None:
    world.grower("ALDER")
    code = world.listed()
    world.post(f"/v1/lots/{code}/sheets", {}, who="ALDER")
    file = world.get(f"/v1/lots/{code}/sheet.pdf").data

    def told(data: bytes, kind: str = "application/pdf") -> object:
        return world.client.post("/v1/sheet-verifications", data=data, content_type=kind)

    assert told(file).json["status"] == "current"
    world.post(f"/v1/lots/{code}/sheets", {"paper": "letter"}, who="ALDER")
    assert (told(file).json["status"], told(file).json["current_revision"]) == ("superseded", 2)
    assert told(file + b" ").json["status"] == "unknown"
    assert told(file, "text/plain").status_code == 415
    assert told(b"x" * 5_000_001).status_code == 413


def test_a_brewer_chooses_the_storage_to_come(world: World) -> None:
    world.grower("ALDER")
    code = world.listed()
    world.post(f"/v1/lots/{code}/sheets", {}, who="ALDER")

    cold = text_of(world.get(f"/v1/lots/{code}/sheet.pdf", kept_at="cold").data)

    assert "PREVIEW" in cold
    assert "cold, 4 °C" in cold
    assert "frozen, " not in cold
    assert "Temperatures: assumption, no source." in cold
    assert world.get(f"/v1/lots/{code}/sheet.pdf", kept_at="oven").status_code == 422
