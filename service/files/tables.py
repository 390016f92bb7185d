"""Reads a table that somebody saved: CSV in any locale, or the first sheet of an XLSX workbook.

Encoding, separator and decimal mark are read from the content. A number or a date that can be read in two
ways is refused.
"""

import csv
import io
from collections.abc import Iterator
from datetime import date, datetime
from itertools import islice

from service.errors import UnreadableTable
from service.facts import Fact
from service.files.workbooks import looks_like_workbook, read_workbook

Cell = str | float | int | bool | date | datetime | None
ROWS_MAX = 100_000
COLUMNS_MAX = 200
CELL_MAX = 20_000
DELIMITERS = (",", ";", "\t")
BOMS = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\x00\x00\xfe\xff", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)


class TableRow(Fact, frozen=True):
    """One row, by the number that a spreadsheet shows beside it."""

    number: int
    cells: tuple[Cell, ...]


class Table(Fact, frozen=True):
    """A header and its rows; `notes` say what had to be guessed."""

    header: tuple[str, ...]
    rows: tuple[TableRow, ...]
    notes: tuple[str, ...]


def read_table(content: bytes) -> Table:
    """Read a file by what is in it, not by its name.

    Raises:
        UnreadableTable: it is neither, holds no header, or is larger than any table of lots.

    """
    notes: list[str] = []
    if looks_like_workbook(content):
        rows: Iterator[tuple[Cell, ...]] = read_workbook(content)
    else:
        rows = _csv_rows(_text(content, notes), notes)
    filled = (
        (number, _trimmed(cells, number))
        for number, cells in enumerate(rows, 1)
        if any(cell not in (None, "") for cell in cells)
    )
    first = next(filled, None)
    if first is None:
        raise UnreadableTable("the file holds no rows", row=None)
    header = tuple(str(cell).strip() if cell is not None else "" for cell in first[1])
    kept = tuple(TableRow(number, cells) for number, cells in islice(filled, ROWS_MAX + 1))
    if len(kept) > ROWS_MAX:
        raise UnreadableTable(f"the file holds over {ROWS_MAX} rows; send it in parts", row=kept[-1].number)
    return Table(header, kept, tuple(notes))


def _trimmed(cells: tuple[Cell, ...], number: int) -> tuple[Cell, ...]:
    last = max((place for place, cell in enumerate(cells) if cell not in (None, "")), default=-1)
    if last >= COLUMNS_MAX:
        raise UnreadableTable(f"row {number} holds over {COLUMNS_MAX} columns", row=number)
    if any(isinstance(cell, str) and len(cell) > CELL_MAX for cell in cells):
        raise UnreadableTable(f"a cell of row {number} holds over {CELL_MAX} letters", row=number)
    return cells[: last + 1]


def _text(content: bytes, notes: list[str]) -> str:
    for mark, encoding in BOMS:
        if content.startswith(mark):
            try:
                return content.decode(encoding)
            except UnicodeError:
                raise UnreadableTable(f"the file says it is {encoding} and is not", row=None) from None
    if b"\x00" in content[:4096]:
        raise UnreadableTable("the file is neither text nor an XLSX workbook", row=None)
    try:
        return content.decode("utf-8")
    except UnicodeError:
        pass
    try:
        text = content.decode("cp1252")
    except UnicodeError:
        raise UnreadableTable("the letters cannot be read; save the file as UTF-8", row=None) from None
    notes.append("The file is not UTF-8; its letters were read as Windows-1252. Look at names with accents.")
    return text


def _csv_rows(text: str, notes: list[str]) -> Iterator[tuple[Cell, ...]]:
    delimiter = _delimiter(text)
    if delimiter != ",":
        notes.append(f"Columns are separated by {'tabs' if delimiter == chr(9) else 'semicolons'}.")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    line = 0
    while True:
        line += 1
        try:
            cells = next(reader, None)
        except csv.Error as problem:
            raise UnreadableTable(f"row {line} cannot be read: {problem}", row=line) from None
        if cells is None:
            return
        yield tuple(unguarded(cell) for cell in cells)


def _delimiter(text: str) -> str:
    """The separator that the header uses most, outside quotes; a spreadsheet of another locale writes semicolons."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    outside = "".join(part for place, part in enumerate(first.split('"')) if place % 2 == 0)
    return max(DELIMITERS, key=lambda mark: (outside.count(mark), -DELIMITERS.index(mark)))


# A spreadsheet takes text that begins so for a formula, and runs it.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def guarded(text: str) -> str:
    """Text that no spreadsheet takes for a formula; `unguarded` gives it back.

    >>> guarded("=1+1"), unguarded("'=1+1"), unguarded(guarded("'plain"))
    ("'=1+1", '=1+1', "'plain")

    """
    return f"'{text}" if text.startswith((*FORMULA_STARTS, "'")) else text


def unguarded(text: str) -> str:
    """The text as it was before `guarded`; other text as it is."""
    return text[1:] if text.startswith("'") and text[1:].startswith((*FORMULA_STARTS, "'")) else text
