"""What a cell says: numbers of any locale, dates, yes and no; what can be read in two ways is refused."""

import re
from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from enum import Enum

from service.errors import OutOfRange
from service.files.tables import Cell

SPACES = re.compile(r"[\s\u00a0\u202f'’]")
PLAIN = re.compile(r"[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d{1,3})?", re.ASCII)
ONE_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
# Digits in threes may be thousands: 1,234 and 1.234 are two numbers in two countries.
MAYBE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)
THOUSANDS_POINT = re.compile(r"[+-]?[1-9]\d{0,2}(?:\.\d{3})+(?:,\d+)?", re.ASCII)
THOUSANDS_COMMA = re.compile(r"[+-]?[1-9]\d{0,2}(?:,\d{3})+\.\d+", re.ASCII)
DOTTED_DATE = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})", re.ASCII)
ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
YES, NO = ("yes", "true", "y"), ("no", "false", "n")


class DecimalMark(Enum):
    """What a file uses between whole and part, as far as its numbers tell."""

    POINT = "."
    COMMA = ","
    UNTOLD = ""


def decimal_mark(cells: Iterable[Cell]) -> DecimalMark:
    """What numbers like 12,5 or 0.27 in a file tell; where they disagree, nothing is told.

    >>> decimal_mark(["1,234", "12,5"]), decimal_mark(["1,234", "12.5"]), decimal_mark(["1,234"])
    (<DecimalMark.COMMA: ','>, <DecimalMark.POINT: '.'>, <DecimalMark.UNTOLD: ''>)

    """
    point = comma = False
    for cell in cells:
        if not isinstance(cell, str) or not cell or cell[-1] not in "0123456789":
            continue
        text = SPACES.sub("", cell)
        comma = comma or (bool(ONE_COMMA.fullmatch(text)) and not MAYBE_THOUSANDS.fullmatch(text))
        point = point or ("." in text and bool(PLAIN.fullmatch(text)))
    if comma == point:
        return DecimalMark.UNTOLD
    return DecimalMark.COMMA if comma else DecimalMark.POINT


def read_number(cell: Cell, mark: DecimalMark = DecimalMark.UNTOLD) -> Decimal:
    """Read a number as it stands in a cell, exactly.

    Raises:
        OutOfRange: it is none, or can be read as two.

    >>> read_number("12,5"), read_number("1 250.25"), read_number("1.234,5")
    (Decimal('12.5'), Decimal('1250.25'), Decimal('1234.5'))

    """
    if isinstance(cell, bool | date) or cell is None:
        raise _none(cell)
    if isinstance(cell, int | float):
        return Decimal(repr(cell))
    text = SPACES.sub("", cell)
    if PLAIN.fullmatch(text):
        return Decimal(text)
    if MAYBE_THOUSANDS.fullmatch(text) and mark is not DecimalMark.COMMA:
        whole, part = text.split(",")
        raise OutOfRange(
            f"{cell!r} may be {whole}.{part} or {whole}{part}; write it with a point, or without a comma",
            name="number",
            value=None,
        )
    if ONE_COMMA.fullmatch(text) or THOUSANDS_POINT.fullmatch(text):
        return Decimal(text.replace(".", "").replace(",", "."))
    if THOUSANDS_COMMA.fullmatch(text):
        return Decimal(text.replace(",", ""))
    raise _none(cell)


def _none(cell: Cell) -> OutOfRange:
    return OutOfRange(f"{str(cell)[:40]!r} is no number; write 12.5", name="number", value=None)


def read_day(cell: Cell) -> str:
    """Read a date, as ISO 8601 writes it.

    Raises:
        OutOfRange: it is none, or month and day may be swapped.

    >>> read_day("29.8.2026"), read_day(date(2026, 8, 29)), read_day("2026-08-29")
    ('2026-08-29', '2026-08-29', '2026-08-29')

    """
    if isinstance(cell, datetime):
        raise OutOfRange(f"{cell} has a time of day; a date is wanted", name="date", value=None)
    if isinstance(cell, date):
        return cell.isoformat()
    text = str(cell).strip()
    if ISO_DATE.fullmatch(text):
        return text
    dotted = DOTTED_DATE.fullmatch(text)
    if dotted:
        day, month, year = map(int, dotted.groups())
        return f"{year:04d}-{month:02d}-{day:02d}"
    raise OutOfRange(
        f"{text[:40]!r} is no date that can be read in one way only; write 2026-08-29",
        name="date",
        value=None,
    )


def read_flag(cell: Cell) -> bool:
    """Read yes or no.

    Raises:
        OutOfRange: it is neither.

    """
    if isinstance(cell, bool):
        return cell
    text = str(cell).strip().lower()
    if text in YES:
        return True
    if text in NO:
        return False
    raise OutOfRange(f"{text[:40]!r} is neither yes nor no", name="flag", value=None)


def read_text(cell: Cell) -> str:
    """Read text; a number that a spreadsheet made of a lot number comes back as it was shown."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, date):
        return cell.isoformat()
    return str(cell).strip()
