"""The printed lot sheet, read back by other libraries than the one that printed it."""

import io
import re
from datetime import date
from decimal import Decimal

import pdfplumber
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.sheets.lot_sheet import render_lot_sheet
from service.sheets.lot_sheet_lines import lot_sheet_lines
from tests.factories import SpellFactory
from tests.sheets.made import (
    LONG_NAME,
    analysed,
    announced,
    awaiting,
    bare,
    crowded,
    facts_of,
    picture,
    printed_text,
    read,
    wet,
)

LOTS = {
    "analysed": analysed(),
    "announced": announced(),
    "wet": wet(),
    "awaiting": awaiting(),
    "no oil": analysed(
        report={"oil_ml_per_100g": None, "oil_shares_percent": None, "oil_shares_basis": None}
    ),
    "storage unknown": analysed(spells=()),
}
BOTH_PAPERS = pytest.mark.parametrize("paper", ["a4", "letter"])
EVERY_LOT = pytest.mark.parametrize("lot", LOTS.values(), ids=LOTS.keys())


@EVERY_LOT
@BOTH_PAPERS
def test_every_word_of_the_sheet_is_on_the_paper(lot, paper: str) -> None:
    facts = facts_of(lot)
    lines = lot_sheet_lines(facts)
    text = printed_text(render_lot_sheet(facts, paper=paper))
    said = [
        *(
            lines.kind,
            lines.status,
            lines.headline,
            lines.under_headline,
            lines.oil_heading,
            lines.certificate,
        ),
        *(lines.certificate_words, lines.fingerprint, lines.url, *lines.what, *lines.whose, *lines.goods),
        *(
            part
            for f in lines.figures
            for part in (f.name, f.value, f.unit, f.method, f.laboratory, f.sample)
        ),
        *(
            *lines.figures_notes,
            *(part.words for part in lines.oil_parts),
            *lines.storage,
            lines.panels_heading,
        ),
        *(part for panel in lines.panels for part in (panel.name, *panel.ends)),
        *(part for dose in lines.doses for part in (dose.name, dose.metric, dose.customary)),
        *(lines.doses_heading, *lines.doses_notes, *(part for pair in lines.statements for part in pair)),
        *lines.cautions,
    ]

    assert [words for words in said if bare(words) not in text] == []


PERCENT = st.floats(0.05, 20.0)


@given(
    moisture=st.floats(3.1, 20.0),
    alpha=PERCENT,
    beta=PERCENT,
    index=st.floats(0.2, 1.9),
    oil=st.floats(0.05, 9.0),
)
@settings(max_examples=12)
def test_every_measured_figure_printed_is_the_facts(
    moisture: float, alpha: float, beta: float, index: float, oil: float
) -> None:
    report = {
        "moisture_percent": moisture,
        "alpha_percent": alpha,
        "beta_percent": beta,
        "hop_storage_index": index,
        "oil_ml_per_100g": oil,
    }
    facts = facts_of(analysed(report=report))
    text = printed_text(render_lot_sheet(facts))

    def found(name: str, unit: str) -> float:
        return float(re.search(rf"{name}([0-9.]+){re.escape(unit)}", text).group(1))

    assert found("Moisture", "%byweight") == pytest.approx(moisture, rel=5e-4)
    assert found("Alphaacids", "%byweight") == pytest.approx(alpha, rel=5e-4)
    assert found("Betaacids", "%byweight") == pytest.approx(beta, rel=5e-4)
    assert found("HopStorageIndex", "A275/A325") == pytest.approx(index, rel=5e-4)
    assert found("Totaloil", "mL/100g") == pytest.approx(oil, rel=5e-4)
    ends = re.findall(r"after18months([0-9.]+)\(([0-9.]+)to([0-9.]+)\)%", text)
    reckoned = [course.points[-1].alpha_percent for course in facts.courses]
    assert [[float(x) for x in end] for end in ends] == [
        pytest.approx([found.estimate, found.low, found.high], abs=0.0501) for found in reckoned
    ]
    doses = re.findall(r"([0-9.]+)\(([0-9.]+)to([0-9.]+)\)g/hL", text)
    assert [[float(x) for x in dose] for dose in doses] == [
        pytest.approx([d.g_per_hl.estimate, d.g_per_hl.low, d.g_per_hl.high], abs=0.501) for d in facts.doses
    ]


@BOTH_PAPERS
@EVERY_LOT
def test_a_lot_without_history_takes_one_page_of_its_paper(lot, paper: str) -> None:
    pages = read(render_lot_sheet(facts_of(lot), paper=paper)).pages

    assert len(pages) == 1
    # 210 x 297 mm, and 8.5 x 11 inches.
    wanted = (595.28, 841.89) if paper == "a4" else (612.0, 792.0)
    assert (float(pages[0].mediabox.width), float(pages[0].mediabox.height)) == pytest.approx(
        wanted, abs=0.01
    )


def test_a_lot_with_a_history_takes_two_pages_each_with_its_foot() -> None:
    moved = (SpellFactory(), SpellFactory(began_on=date(2026, 10, 1), stored_at_c=4.0))
    pages = read(render_lot_sheet(facts_of(analysed(spells=moved)))).pages
    texts = [bare(page.extract_text()) for page in pages]

    assert len(texts) == 2
    assert "HistoryoflotALDER-2026-07" in texts[1]
    assert "page1of2" in texts[0]
    assert "page2of2" in texts[1]
    assert all("Notacertificateofanalysis." in text for text in texts)


def test_a_history_longer_than_a_page_says_how_much_is_left_out() -> None:
    text = printed_text(render_lot_sheet(facts_of(crowded()), paper="letter"))
    shown = len(re.findall(r"R\d+:[^;]*;drawnbythelaboratory,3Sep2026;packagescorednotstated;analysed", text))
    left = int(re.search(r"and(\d+)more,online:https", text).group(1))

    assert shown + left == 20


@pytest.mark.parametrize("lot", [analysed(), crowded()], ids=["analysed", "crowded"])
def test_every_font_that_draws_a_sign_is_embedded(lot) -> None:
    file = render_lot_sheet(facts_of(lot))
    with pdfplumber.open(io.BytesIO(file)) as document:
        drawing = {sign["fontname"] for page in document.pages for sign in page.chars}
    embedded = set()
    for page in read(file).pages:
        for font in page["/Resources"]["/Font"].values():
            described = font.get_object().get("/FontDescriptor")
            if described is not None and "/FontFile2" in described:
                embedded.add(font.get_object()["/BaseFont"].removeprefix("/"))

    assert drawing <= embedded
    assert {name.split("+")[1] for name in drawing} == {"DejaVuSansCondensed", "DejaVuSansCondensed-Bold"}


@BOTH_PAPERS
def test_the_qr_code_leads_to_the_lot(paper: str) -> None:
    facts = facts_of(analysed())
    found = zxingcpp.read_barcodes(picture(render_lot_sheet(facts, paper=paper)))

    assert [code.text for code in found] == ["https://hops.example.org/v1/lots/ALDER-2026-07"]


def test_the_same_facts_give_the_same_bytes() -> None:
    assert render_lot_sheet(facts_of(analysed())) == render_lot_sheet(facts_of(analysed()))
    assert render_lot_sheet(facts_of(analysed())) != render_lot_sheet(facts_of(analysed(), revision=4))


def test_a_preview_says_so_on_its_face_and_an_issued_sheet_does_not() -> None:
    assert "PREVIEWof25Nov2026,notissued" in printed_text(
        render_lot_sheet(facts_of(analysed(), revision=None))
    )
    assert "PREVIEW" not in printed_text(render_lot_sheet(facts_of(analysed())))


def test_the_fingerprint_on_the_paper_is_that_of_the_facts() -> None:
    facts = facts_of(analysed())

    assert facts.fingerprint in printed_text(render_lot_sheet(facts))


@pytest.mark.parametrize(
    "name",
    [
        "Обʼєднання хмелярів «Поліська Нива»",
        "Συνεταιρισμός Λυκίσκου Έβρου",
        "Žatecké chmelařské družstvo",
        "Nguyễn Văn Ánh",
    ],
    ids=["Cyrillic", "Greek", "Czech", "Vietnamese"],
)
def test_names_of_other_scripts_read_back_as_they_were(name: str) -> None:
    file = render_lot_sheet(facts_of(analysed(), grower={"name": name}))

    assert bare(name) in printed_text(file)
    assert read(file).metadata.author == name


def test_signs_without_a_glyph_are_told_and_not_boxed() -> None:
    text = printed_text(render_lot_sheet(facts_of(analysed(), grower={"name": "山田 Hop Yard"})))

    assert "[U+5C71][U+7530]HopYard" in text
    assert (
        bare("Signs that this sheet's font lacks are printed by their Unicode number: U+5C71, U+7530.")
        in text
    )
    assert "fontlacks" not in printed_text(render_lot_sheet(facts_of(analysed())))


def test_the_file_says_what_it_is() -> None:
    reader = read(render_lot_sheet(facts_of(analysed())))

    assert reader.metadata.title == "Lot spec sheet ALDER-2026-07: Willamette"
    assert reader.metadata.author == "Alderbrook Hop Yard"
    assert reader.metadata.subject == "Lot ALDER-2026-07 of Alderbrook Hop Yard"
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/DisplayDocTitle"].value is True


def test_the_outline_leads_to_each_part() -> None:
    moved = (SpellFactory(), SpellFactory(began_on=date(2026, 10, 1), stored_at_c=4.0))
    reader = read(render_lot_sheet(facts_of(analysed(spells=moved))))
    first, parts, second = reader.outline

    assert first.title == "Lot spec sheet ALDER-2026-07: Willamette"
    assert [part.title for part in parts] == [
        "What it is",
        "Measured",
        "Oil",
        "Storage since picking",
        "Storage to come",
        "For 10 IBU, an estimate",
        "Statements",
        "Cautions",
    ]
    assert [reader.get_destination_page_number(entry) for entry in (first, parts[-1], second)] == [0, 0, 1]


def test_a_paper_that_nobody_has_is_refused() -> None:
    with pytest.raises(OutOfRange, match="paper must be one of a4, letter"):
        render_lot_sheet(facts_of(analysed()), paper="foolscap")


def test_long_names_keep_figures_and_mass_whole() -> None:
    lot = analysed(mass_kg=Decimal("123456.789"), packages=())
    text = printed_text(render_lot_sheet(facts_of(lot, grower={"name": LONG_NAME, "locality": LONG_NAME})))

    assert "net123456.789kg(272175.6lb)" in text
    assert "Alphaacids5.4%byweight" in text


def test_a_sheet_is_small_enough_to_mail() -> None:
    assert len(render_lot_sheet(facts_of(crowded()))) < 80_000
