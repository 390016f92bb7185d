"""XLSX workbooks: the first sheet, read row by row, with limits on what a small file may unfold to."""

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime, time
from typing import Any

from service.errors import UnreadableTable

UNPACKED_MAX = 200_000_000
RATIO_MAX = 200
MEMBERS_MAX = 200
READ_MAX = 110_000
UNSAFE = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")
# What the standard library raises on a damaged, cut or encrypted archive: it has no error of its own for all of them.
DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError)
ESCAPE = re.compile("_x([0-9A-Fa-f]{4})_")


def looks_like_workbook(content: bytes) -> bool:
    """Whether a file is a ZIP archive, as XLSX workbooks are."""
    return content.startswith(b"PK\x03\x04")


def read_workbook(content: bytes) -> Iterator[tuple[Any, ...]]:
    """The rows of the first sheet, as values; a formula counts as the value that the spreadsheet saved with it.

    Raises:
        UnreadableTable: it is no such workbook, or unfolds beyond every table of lots.

    """
    _refuse_bombs(content)
    # Read by the few who send workbooks; the start of the service does not wait for it.
    from openpyxl import load_workbook  # noqa: PLC0415 -- slow import

    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
    except Exception as problem:
        raise UnreadableTable(f"the workbook cannot be read: {type(problem).__name__}", row=None) from None
    try:
        sheet = book.worksheets[0] if book.worksheets else None
        if sheet is None:
            raise UnreadableTable("the workbook holds no sheet", row=None)
        sheet.reset_dimensions()
        for number, row in enumerate(sheet.iter_rows(values_only=True), 1):
            if number > READ_MAX:
                raise UnreadableTable(f"the sheet holds over {READ_MAX} rows", row=number)
            yield tuple(map(_plain, row))
    except UnreadableTable:
        raise
    except Exception as problem:
        raise UnreadableTable(f"the sheet cannot be read: {type(problem).__name__}", row=None) from None
    finally:
        book.close()


def escaped(text: str) -> str:
    """Text as a workbook may hold it: what XML cannot carry stands as _xHHHH_, as ECMA-376 (ST_Xstring) writes it."""
    return UNSAFE.sub(lambda found: f"_x{ord(found[0]):04X}_", text)


def unescaped(text: str) -> str:
    """The text as it was before `escaped`."""
    return ESCAPE.sub(lambda found: chr(int(found[1], 16)), text)


def _plain(value: Any) -> Any:
    if isinstance(value, str):
        return unescaped(value)
    if isinstance(value, datetime):
        return value.date() if value.time() == time(0) else value
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    return value if isinstance(value, int | float | bool | date) else None if value is None else str(value)


def _refuse_bombs(content: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = archive.infolist()
            unpacked = sum(member.file_size for member in members)
            if len(members) > MEMBERS_MAX or unpacked > min(
                UNPACKED_MAX, max(1_000_000, RATIO_MAX * len(content))
            ):
                raise UnreadableTable("the workbook unfolds beyond every table of lots", row=None)
            for member in members:
                if member.filename.endswith((".xml", ".rels")):
                    with archive.open(member) as part:
                        if b"<!DOCTYPE" in part.read(4096):
                            raise UnreadableTable("the workbook holds what no spreadsheet writes", row=None)
    except DAMAGED:
        raise UnreadableTable("the file is neither text nor an XLSX workbook", row=None) from None
