"""CSV to frozen rows; refuses a row without unit, mark or source."""

import csv
import io
import math
from collections.abc import Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType

from service.facts import Fact

COMMON_PRACTICE = "common practice, no source"
ASSUMPTION = "assumption, no source"

MARKS = frozenset({"read", "point", "quoted", "derived", COMMON_PRACTICE, ASSUMPTION})
"""What a row may say of its evidence.

read: read in the named source. point: read, but one published mean. quoted: the named source at second
hand. derived: arithmetic on figures that were read. The two others name what has no source.
"""


class BrokenTable(ValueError):  # noqa: N818 -- the name says what is wrong, as the refusals do
    """A table of the books has a row that may not ship; the message names table, line and column."""


class Row(Fact, frozen=True):
    """One line of a table, its cells by column name."""

    table: str
    line: int
    cells: Mapping[str, str]

    def text(self, column: str) -> str:
        """Give a cell that must not be empty."""
        value = self.cells[column]
        if not value:
            raise self._broken(column, "is empty")
        return value

    def text_or_none(self, column: str) -> str | None:
        """Give a cell, or None where nothing is known."""
        return self.cells[column] or None

    def number(self, column: str) -> float:
        """Give a cell that must be a finite number."""
        text = self.text(column)
        try:
            value = float(text)
        except ValueError:
            raise self._broken(column, "is not a number") from None
        if not math.isfinite(value):
            raise self._broken(column, "is not finite")
        return value

    def number_or_none(self, column: str) -> float | None:
        """Give a number, or None where nothing is known."""
        return self.number(column) if self.cells[column] else None

    def parts(self, column: str) -> tuple[str, ...]:
        """Give a list cell, whose parts stand between semicolons."""
        return tuple(part.strip() for part in self.cells[column].split(";") if part.strip())

    def one_of(self, column: str, allowed: frozenset[str]) -> str:
        """Give a cell whose words are fixed."""
        value = self.text(column)
        if value not in allowed:
            raise self._broken(column, f"must be one of {sorted(allowed)}")
        return value

    def _broken(self, column: str, what: str) -> BrokenTable:
        return BrokenTable(f"{self.table}.csv, line {self.line}: {column} {what}")


def parse_table(table: str, text: str, *, has_unit: bool) -> tuple[Row, ...]:
    """Turn the text of a table into rows, each checked for mark, source and unit.

    Args:
        table: name of the table, for messages.
        text: the CSV, with one header line.
        has_unit: whether its rows carry figures and so must carry a unit.

    Raises:
        BrokenTable: a row lacks a cell, or its mark, source or unit.

    >>> parse_table("limits", "name,unit,mark,source\\noxygen,%,read,a book\\n", has_unit=True)[0].line
    2

    """
    rows = []
    for line, cells in enumerate(csv.DictReader(io.StringIO(text)), start=2):
        if None in cells or None in cells.values():
            raise BrokenTable(f"{table}.csv, line {line}: too many or too few cells")
        row = Row(table=table, line=line, cells=MappingProxyType(cells))
        row.text("source")
        row.one_of("mark", MARKS)
        if has_unit:
            row.text("unit")
        rows.append(row)
    return tuple(rows)


@cache
def load_table(table: str, *, has_unit: bool) -> tuple[Row, ...]:
    """Give the rows of a shipped table; read once.

    Raises:
        BrokenTable: as `parse_table`.

    >>> len(load_table("cultivars", has_unit=False))
    39

    """
    path = resources.files("service.reference") / "data" / f"{table}.csv"
    return parse_table(table, path.read_text(encoding="utf-8"), has_unit=has_unit)
