"""Paper and ink: blocks are measured before they are drawn, and a page forgets what the last one lacked."""

import io

import pdfplumber
import pytest

from service.errors import OutOfRange
from service.sheets.paper import (
    TEXT,
    Block,
    Particulars,
    Sheet,
    open_sheet,
    side_by_side,
    stacked,
    text_block,
)
from service.sheets.papers import PAPERS, paper_named
from tests.sheets.made import read

TOLD = Particulars(title="A paper", author="Nobody", subject="Paper", keywords=("a", "b"), language="en")


def a_sheet() -> Sheet:
    """An empty sheet of A4."""
    return open_sheet(PAPERS["a4"], TOLD)


def test_the_papers_are_those_of_the_standard_and_of_the_states() -> None:
    # ISO 216: 210 x 297 mm at 72 points an inch of 25.4 mm; US Letter: 8.5 x 11 inches.
    assert paper_named("a4").width == pytest.approx(210 / 25.4 * 72, abs=1e-4)
    assert paper_named("a4").height == pytest.approx(297 / 25.4 * 72, abs=1e-4)
    assert (paper_named("letter").width, paper_named("letter").height) == (8.5 * 72, 11 * 72)


def test_an_unknown_paper_is_refused_with_those_there_are() -> None:
    with pytest.raises(OutOfRange) as refused:
        paper_named("legal")

    assert refused.value.facts["known"] == ["a4", "letter"]


def test_a_paragraph_is_as_high_as_its_lines_and_its_gap() -> None:
    block = text_block(a_sheet(), "one two three four", TEXT, x=0, width=32, most=9, gap=3)

    assert block.height == 3 * TEXT.leading + 3


def test_stacked_blocks_are_drawn_one_below_the_other() -> None:
    drawn: list[float] = []
    block = stacked([Block(10, drawn.append), Block(5, drawn.append), Block(1, drawn.append)])
    block.draw(100)

    assert block.height == 16
    assert drawn == [100, 110, 115]


def test_blocks_side_by_side_begin_together_and_are_as_high_as_the_highest() -> None:
    drawn: list[float] = []
    block = side_by_side([Block(10, drawn.append), Block(25, drawn.append)])
    block.draw(100)

    assert block.height == 25
    assert drawn == [100, 100]
    assert side_by_side([]).height == 0


def test_a_page_tells_of_its_own_lacking_signs_only() -> None:
    sheet = a_sheet()
    sheet.text(100, 100, "山", TEXT)
    first = list(sheet.lacking)
    sheet.turn()

    assert first == ["U+5C71"]
    assert list(sheet.lacking) == []


@pytest.mark.parametrize(("align", "share"), [("left", 0.0), ("middle", 0.5), ("right", 1.0)])
def test_a_line_stands_where_it_is_asked_to(align: str, share: float) -> None:
    sheet = a_sheet()
    width = sheet.width_of("nnnnn", TEXT)
    sheet.text(100, 100, "nnnnn", TEXT, align=align)
    with pdfplumber.open(io.BytesIO(sheet.finish())) as document:
        first = document.pages[0].chars[0]

    assert first["x0"] == pytest.approx(100 - share * width, abs=0.01)


def test_a_shape_may_be_an_open_line_or_a_filled_one() -> None:
    sheet = a_sheet()
    sheet.shape([(0, 0), (10, 0), (10, 10)], fill=None, edge=TEXT.colour)
    sheet.shape([(0, 0), (10, 0), (10, 10)], fill=TEXT.colour, edge=None)
    with pdfplumber.open(io.BytesIO(sheet.finish())) as document:
        drawn = [(curve["stroke"], curve["fill"]) for curve in document.pages[0].curves]

    assert drawn == [(True, False), (False, True)]


def test_the_file_carries_its_particulars() -> None:
    reader = read(a_sheet().finish())

    assert (reader.metadata.title, reader.metadata.author) == ("A paper", "Nobody")
    assert reader.metadata["/Keywords"] == "a, b"
    assert reader.metadata.creator == "Oastbook"
