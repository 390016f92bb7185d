"""Samples for a laboratory over HTTP, and the slip that goes with one, read back."""

import io
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from pypdf import PdfReader

from tests.builders import World

SENT = {
    "mass_g": 150,
    "sent_on": "2026-09-03",
    "laboratory": "Quarry Lane Laboratory",
    "tests": ["moisture", "alpha_beta", "oil"],
    "note": "cored from four boxes",
}


@pytest.fixture
def drafted(world: World) -> tuple[World, str]:
    world.grower()
    world.grower("ROWAN")
    world.brewery()
    return world, world.draft(own_lot_number="B-14 Žatec")


def submit(world: World, lot: str, who: str | None = "ALDER", **told: Any) -> Any:
    return world.post(f"/v1/lots/{lot}/submissions", {**SENT, **told}, who=who)


def test_a_sample_is_booked_and_the_lot_says_since_when_it_waits(drafted: tuple[World, str]) -> None:
    world, lot = drafted

    first, second = submit(world, lot), submit(world, lot, sent_on="2026-09-10", mass_g=50)

    assert (first.status_code, second.status_code) == (201, 201), first.text
    shown = world.get(f"/v1/lots/{lot}", who="ALDER").json
    assert (shown["sample_sent_on"], shown["free_kg"]) == ("2026-09-10", 120.3)
    items = world.get(f"/v1/lots/{lot}/submissions", who="ALDER").json["items"]
    assert [(s["code"], s["booking_code"], s["tests"]) for s in items] == [
        ("S1", "B1", SENT["tests"]),
        ("S2", "B2", SENT["tests"]),
    ]
    assert world.get(f"/v1/lots/{world.draft()}", who="ALDER").json["sample_sent_on"] is None


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_slip_says_by_what_the_result_finds_its_lot(drafted: tuple[World, str], paper: str) -> None:
    world, lot = drafted
    address = submit(world, lot).headers["Location"]

    answer = world.get(address, who="ALDER", paper=paper)

    assert answer.status_code == 200
    (page,) = PdfReader(io.BytesIO(answer.data)).pages
    text = page.extract_text()
    for said in (lot, "B-14 Žatec", "150 g", "Quarry Lane Laboratory", "Total oil", "cored from four boxes"):
        assert said in text
    assert "None" not in text
    picture = pypdfium2.PdfDocument(answer.data)[0].render(scale=4).to_pil()
    (code,) = zxingcpp.read_barcodes(picture)
    assert code.text.endswith(f"/v1/lots/{lot}")
    assert world.get(address, who="ALDER", paper=paper).data == answer.data


def test_strangers_and_bad_input_are_refused(drafted: tuple[World, str]) -> None:
    world, lot = drafted
    address = submit(world, lot).headers["Location"]

    assert submit(world, lot, who=None).status_code == 401
    assert submit(world, lot, who="ROWAN").status_code == 404
    listed = world.listed()
    assert submit(world, listed, who=None).status_code == 401
    assert submit(world, listed, who="FINCH").status_code == 403
    assert world.get(f"/v1/lots/{listed}/submissions", who="FINCH").status_code == 403
    assert world.get(address, who="FINCH").status_code == 404
    assert world.get(f"/v1/lots/{lot}/submissions/S9/slip.pdf", who="ALDER").status_code == 404
    odd = submit(world, lot, mass_g=0, tests=["smell"], laboratory="")
    assert {e["pointer"].split("/")[1] for e in odd.json["errors"]} == {"mass_g", "tests", "laboratory"}
