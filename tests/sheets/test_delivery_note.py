"""The printed delivery note, read back by other libraries than the one that printed it."""

import io
from decimal import Decimal

import pdfplumber
import pytest
import zxingcpp

from service.errors import OutOfRange
from service.market.trade.delivery_notes import DeliveryNoteFacts, NotedParcel
from service.sheets.delivery_note import render_delivery_note
from tests.factories import TODAY, PartyFactory
from tests.market.trade.test_delivery_notes import promise
from tests.sheets.made import LONG_NAME, analysed, bare, crowded, picture, printed_text, read


def facts(count: int = 1, **told: object) -> DeliveryNoteFacts:
    """A note of so many parcels."""
    parcels = tuple(
        NotedParcel(
            promise=promise(code=f"FINCH-RES-{n:02d}"),
            lot=crowded() if n % 5 == 4 else analysed(),
            gross_kg=Decimal(45),
        )
        for n in range(1, count + 1)
    )
    given = {
        "grower": PartyFactory(code="ALDER", name="Alderbrook Hop Yard"),
        "brewery": PartyFactory(kind="brewery", code="FINCH", name=LONG_NAME),
        "parcels": parcels,
        "handover": None,
        "is_cold": None,
        "printed_on": TODAY,
        "public_url": "https://hops.example.org/v1/reservations/FINCH-RES-01",
    }
    return DeliveryNoteFacts(**{**given, **told})


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_long_note_takes_more_pages_and_every_parcel_is_on_one(paper: str) -> None:
    file = render_delivery_note(facts(40), paper=paper)
    pages, text = len(read(file).pages), printed_text(file)

    assert pages > 1
    assert [n for n in range(1, pages + 1) if f"page{n}of{pages}" not in text] == []
    assert [n for n in range(1, 41) if f"FINCH-RES-{n:02d};" not in text] == []
    assert bare("1620 kg (3571.5 lb)") in text
    assert bare("1800 kg (3968.3 lb)") in text
    assert "None" not in text


def test_nothing_runs_over_the_margins_or_into_the_foot() -> None:
    with pdfplumber.open(io.BytesIO(render_delivery_note(facts(40)))) as document:
        for page in document.pages:
            signs = [sign for sign in page.chars if sign["text"].strip()]
            assert min(sign["x0"] for sign in signs) >= 44.9
            assert max(sign["x1"] for sign in signs) <= 595.28 - 44.9
            foot = next(word["top"] for word in page.extract_words() if word["text"] == "invoice")
            inside = [sign["bottom"] for sign in signs if sign["top"] < foot - 1]
            assert max(inside) < foot


def test_the_note_embeds_its_fonts_leads_to_the_promise_and_says_what_it_is() -> None:
    file = render_delivery_note(facts())
    reader = read(file)

    for font in reader.pages[0]["/Resources"]["/Font"].values():
        described = font.get_object().get("/FontDescriptor")
        assert described is None or "/FontFile2" in described
    assert [code.text for code in zxingcpp.read_barcodes(picture(file))] == [facts().public_url]
    assert (reader.metadata.title, reader.metadata.author) == (
        "Delivery note FINCH-RES-01",
        "Alderbrook Hop Yard",
    )
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert [entry.title for entry in reader.outline[1]] == [
        "From and to",
        "How",
        "What is handed over",
        "Receipt",
    ]


def test_the_same_facts_give_the_same_bytes_and_signs_without_a_glyph_are_told() -> None:
    assert render_delivery_note(facts()) == render_delivery_note(facts())
    named = facts(grower=PartyFactory(code="ALDER", name="山田 Hop Yard"))
    assert "U+5C71,U+7530" in printed_text(render_delivery_note(named))
    with pytest.raises(OutOfRange, match="paper must be one of"):
        render_delivery_note(facts(), paper="foolscap")
