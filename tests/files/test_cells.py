"""Cells of any locale: what they say, and what may be read in two ways."""

from datetime import date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.files.cells import DecimalMark, decimal_mark, read_day, read_flag, read_number, read_text


@pytest.mark.parametrize(
    ("cell", "number"),
    [
        ("12.5", "12.5"),
        ("12,5", "12.5"),
        (" 120 ", "120"),
        ("-2.0", "-2.0"),
        ("0,275", "0.275"),
        ("1 250,5", "1250.5"),
        ("1\u202f250.25", "1250.25"),
        ("1'250.25", "1250.25"),
        ("1.234,5", "1234.5"),
        ("1,234.5", "1234.5"),
        ("1,234,567.5", "1234567.5"),
        ("1.234.567", "1234567"),
        ("1e-3", "0.001"),
        (3, "3"),
        (0.1, "0.1"),
    ],
)
def test_a_number_is_read_as_its_writer_meant_it(cell: str | float, number: str) -> None:
    assert read_number(cell) == Decimal(number)


@pytest.mark.parametrize("cell", ["1,234", "12,345", "-1,234"])
def test_a_number_that_may_be_two_is_refused_with_both(cell: str) -> None:
    with pytest.raises(OutOfRange, match="may be"):
        read_number(cell)
    assert read_number(cell, DecimalMark.COMMA) == Decimal(cell.replace(",", "."))
    with pytest.raises(OutOfRange, match="may be"):
        read_number(cell, DecimalMark.POINT)


@pytest.mark.parametrize(
    "cell", ["twelve", "", "1,2,3", "=1+1", "١٢", "12 kg", "1..2", True, None, date(2026, 1, 1)]
)
def test_what_is_no_number_is_refused(cell: object) -> None:
    with pytest.raises(OutOfRange):
        read_number(cell)  # type: ignore[arg-type]


@given(st.decimals(min_value=-10_000_000, max_value=10_000_000, places=3, allow_nan=False))
def test_every_number_we_write_is_read_back(number: Decimal) -> None:
    assert read_number(str(number)) == number
    assert read_number(str(number).replace(".", ","), DecimalMark.COMMA) == number


def test_a_file_whose_numbers_disagree_tells_nothing() -> None:
    assert decimal_mark(["12,5", "12.5"]) is DecimalMark.UNTOLD
    assert decimal_mark([None, 3, "text", "1,234"]) is DecimalMark.UNTOLD


@pytest.mark.parametrize(
    ("cell", "day"),
    [
        ("2026-08-29", "2026-08-29"),
        ("29.08.2026", "2026-08-29"),
        ("9.8.2026", "2026-08-09"),
        (date(2026, 8, 29), "2026-08-29"),
    ],
)
def test_a_date_is_read(cell: str | date, day: str) -> None:
    assert read_day(cell) == day


@pytest.mark.parametrize("cell", ["08/09/2026", "29 August", 46263, datetime(2026, 8, 29, 7), ""])
def test_a_date_that_may_be_two_is_refused(cell: object) -> None:
    with pytest.raises(OutOfRange):
        read_day(cell)  # type: ignore[arg-type]


def test_yes_and_no_are_words() -> None:
    assert [read_flag(cell) for cell in ("yes", "TRUE", True, "no", "n", False)] == [True] * 3 + [False] * 3
    with pytest.raises(OutOfRange):
        read_flag("perhaps")


def test_text_is_what_was_shown() -> None:
    assert [read_text(cell) for cell in (" B-14 ", 14, True, date(2026, 8, 29))] == [
        "B-14",
        "14",
        "yes",
        "2026-08-29",
    ]
