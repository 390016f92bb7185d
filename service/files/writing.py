"""Writing a table: CSV that every spreadsheet opens, or an XLSX workbook."""

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from service.files.tables import guarded
from service.files.workbooks import escaped

Value = str | float | int | bool | Decimal | date | None


def write_csv(header: Sequence[str], rows: Iterable[Sequence[Value]]) -> bytes:
    """A CSV file: UTF-8 with a byte-order mark, commas, decimal points, text that no spreadsheet runs."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        writer.writerow([_csv_cell(value) for value in row])
    return b"\xef\xbb\xbf" + text.getvalue().encode("utf-8")


def _csv_cell(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return guarded(value)
    if isinstance(value, date):
        return value.isoformat()
    return str(value)


def write_xlsx(header: Sequence[str], rows: Iterable[Sequence[Value]], *, title: str) -> bytes:
    """An XLSX workbook of one sheet; text stays text, also where it begins like a formula."""
    from openpyxl import Workbook  # noqa: PLC0415 -- slow import
    from openpyxl.cell import WriteOnlyCell  # noqa: PLC0415 -- as above

    book = Workbook(write_only=True)
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "A2"

    def cell(value: Value) -> Any:
        if isinstance(value, bool):
            value = "yes" if value else "no"
        if isinstance(value, float) and float(f"{value:.15g}") != value:
            # A workbook keeps fifteen digits; a number that needs more stands as text.
            value = repr(value)
        if isinstance(value, str):
            made = WriteOnlyCell(sheet, escaped(value))
            made.data_type = "s"
            return made
        return value

    sheet.append([cell(name) for name in header])
    for row in rows:
        sheet.append([cell(value) for value in row])
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()
