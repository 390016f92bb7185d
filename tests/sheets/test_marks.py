"""The drawn marks: where each lies, and that a QR code holds its address."""

import io

import pdfplumber
import pytest
import zxingcpp

from service.science.uncertainty import Estimate
from service.sheets.marks import (
    RangeMark,
    Scale,
    draw_course,
    draw_parts,
    draw_qr,
    draw_range,
    nice_top,
    qr_runs,
)
from service.sheets.paper import GREY, INK, WHITE, Particulars, Sheet, open_sheet
from service.sheets.papers import PAPERS
from tests.sheets.made import picture, read


def a_sheet() -> Sheet:
    """An empty sheet of A4."""
    told = Particulars(title="Marks", author="Nobody", subject="Marks", keywords=("marks",), language="en")
    return open_sheet(PAPERS["a4"], told)


def drawn(sheet: Sheet) -> pdfplumber.page.Page:
    """The finished page, read back."""
    return pdfplumber.open(io.BytesIO(sheet.finish())).pages[0]


def a_mark(**told: float) -> RangeMark:
    """A figure of 5 in a range of 4 to 6, or as told."""
    given = {
        "value": 5.0,
        "low": 4.0,
        "high": 6.0,
        "is_single_mean": False,
        "low_words": "4",
        "high_words": "6",
    }
    return RangeMark(**{**given, **told})


@pytest.mark.parametrize("value", [0.1, 3.0, 4.0, 5.0, 6.0, 7.0, 40.0])
def test_the_lot_lies_on_the_side_of_the_range_where_its_value_lies(value: float) -> None:
    sheet = a_sheet()
    draw_range(sheet, a_mark(value=value), x=100, y=100, width=104)
    page = drawn(sheet)
    bar = next(rect for rect in page.rects if 3 < rect["height"] < 6)
    mark = page.curves[0]
    middle = (mark["x0"] + mark["x1"]) / 2

    assert 100 <= mark["x0"] < mark["x1"] <= 204
    assert 100 <= bar["x0"] < bar["x1"] <= 204
    assert (middle < bar["x0"] - 0.01) == (value < 4.0)
    assert (middle > bar["x1"] + 0.01) == (value > 6.0)


def test_in_the_middle_of_the_range_means_in_the_middle_of_the_bar() -> None:
    sheet = a_sheet()
    draw_range(sheet, a_mark(), x=100, y=100, width=104)
    page = drawn(sheet)
    bar, mark = next(rect for rect in page.rects if 3 < rect["height"] < 6), page.curves[0]

    assert (mark["x0"] + mark["x1"]) / 2 == pytest.approx((bar["x0"] + bar["x1"]) / 2, abs=0.05)


def test_a_single_mean_is_a_ring_without_a_bar() -> None:
    sheet = a_sheet()
    draw_range(sheet, a_mark(low=5.0, high=5.0, is_single_mean=True, low_words="5"), x=100, y=100, width=104)
    page = drawn(sheet)

    assert [rect for rect in page.rects if 3 < rect["height"] < 6] == []
    assert len(page.curves) == 2
    assert page.extract_text() == "5"


def test_parts_are_as_wide_as_their_share() -> None:
    sheet = a_sheet()
    draw_parts(sheet, [50.0, 30.0, 20.0], [INK, GREY, WHITE], x=100, y=100, width=200)
    widths = [rect["width"] for rect in drawn(sheet).rects]

    assert widths == pytest.approx([100.0, 60.0, 40.0, 200.0], abs=0.01)


def test_parts_that_add_to_more_than_all_stay_within_the_bar() -> None:
    sheet = a_sheet()
    draw_parts(sheet, [60.0, 40.4], [INK, GREY], x=100, y=100, width=200)

    assert max(rect["x1"] for rect in drawn(sheet).rects) == pytest.approx(300.0, abs=0.01)


def test_a_course_falls_within_its_band_and_its_axes() -> None:
    sheet = a_sheet()
    points = [(month, Estimate(10.0 - month / 3, 9.0 - month / 3, 11.0 - month / 4)) for month in range(19)]
    draw_course(sheet, points, x=100, y=100, width=180, height=60, top=12.0, labelled=True)
    page = drawn(sheet)
    band, middle = page.curves[0], page.curves[1]

    assert (middle["x0"], middle["x1"]) == pytest.approx((100.0, 280.0), abs=0.01)
    assert band["top"] <= middle["top"] < middle["bottom"] <= band["bottom"] <= 160.01
    # 10 of 12 is five sixths up an axis of 60 points.
    assert middle["top"] == pytest.approx(110.0, abs=0.01)
    assert {"0", "6", "12", "18"} <= set(page.extract_text().split())


@pytest.mark.parametrize("value", [0.0, 0.2, 1.0, 5.01, 8.0, 8.1, 15.9, 16.1, 99.0])
def test_an_axis_ends_at_or_above_the_highest_value(value: float) -> None:
    assert value <= nice_top(value) <= value + 10


def test_a_scale_is_level_between_its_ends() -> None:
    scale = Scale(10.0, 110.0, 2.0, 4.0)

    assert [scale.at(value) for value in (2.0, 2.5, 4.0)] == [10.0, 35.0, 110.0]


@pytest.mark.parametrize(
    "text",
    ["https://hops.example.org/v1/lots/ALDER-2026-07", "https://hopfen.example/" + "a" * 120],
    ids=["short", "long"],
)
def test_a_qr_code_holds_its_text_with_four_modules_of_white_around(text: str) -> None:
    sheet = a_sheet()
    draw_qr(sheet, text, x=100, y=100, size=66)
    found = zxingcpp.read_barcodes(picture(sheet.finish()))
    side, runs = qr_runs(text)

    assert [code.text for code in found] == [text]
    assert min(column for column, _, _ in runs) == 0
    assert max(column + length for column, _, length in runs) == side


def test_a_qr_code_is_one_path() -> None:
    sheet = a_sheet()
    draw_qr(sheet, "https://hops.example.org/", x=100, y=100, size=66)
    content = read(sheet.finish()).pages[0].get_contents().get_data().decode("latin-1")

    assert sum(line.split()[-1] in ("f", "f*") for line in content.split("\n") if line.strip()) == 1
