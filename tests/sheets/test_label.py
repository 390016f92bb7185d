"""Printed labels, read back by other libraries than the one that printed them."""

import io

import pdfplumber
import pytest
import zxingcpp

from service.errors import OutOfRange
from service.market.goods.labels import LabelFacts, labels_of
from service.market.goods.lots import Lot
from service.sheets.label import label_texts, render_labels
from service.sheets.papers import LABEL_SIZES
from tests.factories import PartyFactory
from tests.sheets.made import LONG_NAME, analysed, bare, crowded, picture, printed_text, read

EVERY_SIZE = pytest.mark.parametrize("size", LABEL_SIZES)


def facts(
    lot: Lot | None = None, *, last: int | None = None, name: str = "Alderbrook Hop Yard"
) -> LabelFacts:
    """The labels of a lot."""
    lot = lot or analysed()
    return LabelFacts(
        lot=lot,
        grower=PartyFactory(code="ALDER", name=name),
        labels=labels_of(lot, last=last),
        public_url=f"https://hops.example.org/v1/lots/{lot.code}",
    )


@EVERY_SIZE
def test_each_package_has_a_label_of_the_size_with_every_word_and_a_code(size: str) -> None:
    file = render_labels(facts(), size=size)
    pages = read(file).pages

    assert len(pages) == 6
    paper = LABEL_SIZES[size]
    box = pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((paper.width, paper.height), abs=0.01)
    text = bare(pages[2].extract_text())
    assert [words for words in label_texts(facts(), facts().labels[2]) if bare(words) not in text] == []
    assert "box3of6" in text
    assert bare("net 20 kg (44.1 lb)") in text
    codes = zxingcpp.read_barcodes(picture(file, page=2, dots_per_inch=203))
    assert [code.text for code in codes] == ["https://hops.example.org/v1/lots/ALDER-2026-07"]


@EVERY_SIZE
def test_long_names_stay_on_the_label_and_clear_of_the_code(size: str) -> None:
    file = render_labels(facts(crowded(), last=1, name=LONG_NAME), size=size)
    paper = LABEL_SIZES[size]
    with pdfplumber.open(io.BytesIO(file)) as document:
        (page,) = document.pages
        signs = [sign for sign in page.chars if sign["text"].strip()]
        assert max(sign["x1"] for sign in signs) <= paper.width - paper.side + 0.1
        assert max(sign["bottom"] for sign in signs) <= paper.height - paper.bottom + 2
    assert len(zxingcpp.read_barcodes(picture(file, dots_per_inch=203))) == 1
    assert "None" not in printed_text(file)
    assert "ABCDEFGHIJKL-2026-123456" in printed_text(file)


def test_labels_embed_their_fonts_and_come_out_the_same() -> None:
    file = render_labels(facts())

    for font in read(file).pages[0]["/Resources"]["/Font"].values():
        described = font.get_object().get("/FontDescriptor")
        assert described is None or "/FontFile2" in described
    assert file == render_labels(facts())
    assert read(file).metadata.title == "Labels of lot ALDER-2026-07"
    with pytest.raises(OutOfRange, match="size must be one of"):
        render_labels(facts(), size="a7")
