"""Labels, and the sheets of many lots as one download, over HTTP."""

import io
import zipfile

import pypdf
import pytest

from tests.builders import World

PACKED = {"packages": [{"kind": "box", "count": 6, "net_kg": 20.0}]}


def archive(answer: object) -> zipfile.ZipFile:
    """A ZIP file, proven whole."""
    opened = zipfile.ZipFile(io.BytesIO(answer.data))
    assert opened.testzip() is None
    return opened


@pytest.fixture
def valley(world: World) -> World:
    """Two growers."""
    world.grower("ALDER")
    world.grower("ROWAN")
    return world


def test_many_sheets_come_as_one_file_the_issued_ones_as_they_were_handed_out(valley: World) -> None:
    first, second, other = valley.listed(), valley.draft(), valley.listed("ROWAN")
    valley.post(f"/v1/lots/{first}/sheets", {}, who="ALDER")

    answer = valley.get("/v1/sheets.zip", who="ALDER")
    files = archive(answer)

    assert (answer.status_code, answer.mimetype) == (200, "application/zip")
    assert files.namelist() == [f"{first}-r1.pdf", f"{second}-preview.pdf"]
    for name, code in zip(files.namelist(), (first, second), strict=True):
        assert files.read(name) == valley.get(f"/v1/lots/{code}/sheet.pdf", who="ALDER").data
    assert answer.data == valley.get("/v1/sheets.zip", who="ALDER").data
    everybodys = archive(valley.get("/v1/sheets.zip", who="specialist", state="listed"))
    assert everybodys.namelist() == [f"{first}-r1.pdf", f"{other}-preview.pdf"]
    assert archive(valley.get("/v1/sheets.zip", who="specialist", grower_code="ROWAN")).namelist() == [
        f"{other}-preview.pdf"
    ]


def test_many_sheets_are_a_growers_own(valley: World) -> None:
    valley.brewery("FINCH")

    assert valley.get("/v1/sheets.zip", who="ALDER", grower_code="ROWAN").status_code == 403
    assert valley.get("/v1/sheets.zip", who="FINCH").status_code == 403
    assert valley.get("/v1/sheets.zip").status_code == 401


def test_a_label_for_each_package_in_the_size_asked_for(valley: World) -> None:
    code = valley.listed(**PACKED)

    answer = valley.get(f"/v1/lots/{code}/label.pdf", who="ALDER", size="4x6in", first=2, last=4)
    pages = pypdf.PdfReader(io.BytesIO(answer.data)).pages

    assert [float(x) for x in pages[0].mediabox[2:]] == [288, 432]
    assert ["box 2 of 6" in page.extract_text() for page in pages] == [True, False, False]
    assert len(pages) == 3


def test_labels_are_the_growers_and_of_packages_that_are(valley: World) -> None:
    code = valley.listed(**PACKED)
    address = f"/v1/lots/{code}/label.pdf"

    assert valley.get(address, who="ROWAN").status_code == 403
    assert valley.get(address).status_code == 401
    assert valley.get(address, who="ALDER", last=7).status_code == 422
    assert valley.get(address, who="ALDER", size="a7").status_code == 422
