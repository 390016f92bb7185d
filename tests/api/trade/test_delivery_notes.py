"""Delivery notes and the deliveries for accounts, over HTTP and read back by another library."""

import csv
import io

import pypdf
import pytest

from tests.builders import World


def text_of(file: bytes) -> str:
    """The words of a PDF."""
    return " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(file)).pages)


def promised(world: World, mass_kg: float, *, delivered: bool = True, **lot: object) -> str:
    """A reservation that both sides confirmed, delivered to the last kilogram."""
    lot_code = world.listed(**lot)
    code = world.post("/v1/reservations", {"lot_code": lot_code, "mass_kg": mass_kg}, who="FINCH").json[
        "code"
    ]
    for side in ("ALDER", "FINCH"):
        assert world.post(f"/v1/reservations/{code}/confirmation", {}, who=side).status_code == 200
    if delivered:
        body = {"delivered_on": "2026-11-20", "mass_kg": mass_kg}
        assert world.post(f"/v1/reservations/{code}/delivery", body, who="ALDER").status_code == 200
    return str(code)


@pytest.fixture
def region(world: World) -> World:
    """A grower and a brewery, whose name a spreadsheet would run."""
    world.grower("ALDER", name="Žatecké chmelařské družstvo")
    world.brewery("FINCH", name="=1+2 Brewery")
    return world


def test_a_note_says_what_the_reservation_says_and_leaves_the_rest_to_the_pen(region: World) -> None:
    code = promised(region, 40.5, delivered=False)
    address = f"/v1/reservations/{code}/delivery-note.pdf"

    answer = region.get(address, who="FINCH", handover="collection", is_cold="true")
    text = text_of(answer.data)

    assert answer.mimetype == "application/pdf"
    for words in (
        code,
        "Not yet recorded as delivered",
        "Collection by the brewery.",
        "Carried cold.",
        "Willamette",
    ):
        assert words in text
    assert text.count("40.5 kg (89.3 lb)") == 2
    assert "………" in text
    assert "None" not in text
    assert region.get(address, who="FINCH", handover="collection", is_cold="true").data == answer.data
    assert "carried cold · □ not cold" in text_of(region.get(address, who="ALDER").data)


def test_one_note_for_several_promises_sums_net_and_gross(region: World) -> None:
    codes = [promised(region, mass) for mass in (40.0, 20.25)]
    parcels = [
        {"reservation_code": code, "package_numbers": numbers, "gross_kg": gross}
        for code, numbers, gross in zip(codes, ("1-2", "7"), (42.0, 21.5), strict=True)
    ]

    answer = region.post("/v1/delivery-notes", {"parcels": parcels, "paper": "letter"}, who="ALDER")
    text = text_of(answer.data)

    assert answer.status_code == 200
    for words in ("1-2", "60.25 kg (132.8 lb)", "63.5 kg (140 lb)", "Recorded as delivered", *codes):
        assert words.replace("140 lb", "140.0 lb") in text
    box = pypdf.PdfReader(io.BytesIO(answer.data)).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (612, 792)


def test_a_note_is_refused_where_it_would_mislead(region: World) -> None:
    region.brewery("WREN")
    code = promised(region, 40.0)
    held = region.post("/v1/reservations", {"lot_code": region.listed(), "mass_kg": 5}, who="WREN").json[
        "code"
    ]

    def note(*parcels: dict[str, object], who: str | None = "ALDER") -> int:
        return region.post("/v1/delivery-notes", {"parcels": list(parcels)}, who=who).status_code

    assert note({"reservation_code": code, "gross_kg": 39.0}) == 422
    assert note({"reservation_code": code}, {"reservation_code": code}) == 422
    assert note({"reservation_code": held}) == 409
    assert note({"reservation_code": code}, who="WREN") == 404
    assert note({"reservation_code": code}, who=None) == 401


def test_deliveries_come_with_what_accounts_need_and_no_formula(region: World) -> None:
    code = promised(region, 40.5)
    promised(region, 10.0, price_per_kg=None, currency=None)
    receipt = {
        "received_on": "2026-11-21",
        "accepted_kg": 40.5,
        "condition": "sound",
        "agreed_price_per_kg": 20.0,
        "currency": "CAD",
    }
    assert region.post(f"/v1/reservations/{code}/receipt", receipt, who="FINCH").status_code < 300

    answer = region.get("/v1/deliveries.csv", who="ALDER")
    first, second = csv.DictReader(io.StringIO(answer.data.decode("utf-8")))

    assert answer.content_type == "text/csv; charset=utf-8"
    assert (first["amount"], first["currency"], first["price_from"]) == ("810.00", "CAD", "agreed at receipt")
    assert (first["grower_name"], first["brewery_name"]) == ("Žatecké chmelařské družstvo", "'=1+2 Brewery")
    assert (first["kept_kg"], first["receipt"]) == ("40.5", "received")
    assert (second["amount"], second["price_from"], second["receipt"]) == (
        "",
        "by agreement",
        "not received yet",
    )


def test_deliveries_are_ones_own_and_of_the_days_asked_for(region: World) -> None:
    region.brewery("WREN")
    promised(region, 10.0)

    def rows(who: str, **days: str) -> int:
        return len(region.get("/v1/deliveries.csv", who=who, **days).data.decode().splitlines()) - 1

    assert (rows("ALDER"), rows("FINCH"), rows("WREN"), rows("specialist")) == (1, 1, 0, 1)
    assert (rows("ALDER", since="2026-11-20"), rows("ALDER", until="2026-11-19")) == (1, 0)
    assert region.get("/v1/deliveries.csv").status_code == 401
