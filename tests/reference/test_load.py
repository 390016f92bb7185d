"""The tables: no row ships without its unit, mark and source."""

import csv
import io
from importlib import resources

import pytest

from service.reference.load import MARKS, BrokenTable, load_table, parse_table

DATA = resources.files("service.reference") / "data"
TABLES = sorted(path.name.removesuffix(".csv") for path in DATA.iterdir() if path.name.endswith(".csv"))
WITHOUT_UNIT = {"cultivars", "availability", "ambiguous_names", "cautions", "cone_classes", "countries"}

HEAD = "name,value,unit,mark,source\n"


def broken(line: str) -> str:
    with pytest.raises(BrokenTable) as caught:
        parse_table("limits", HEAD + line, has_unit=True)
    return str(caught.value)


def test_the_tables_are_those_that_the_room_reads():
    assert TABLES == [
        "ambiguous_names",
        "assumptions",
        "availability",
        "cautions",
        "cone_classes",
        "countries",
        "cultivar_figures",
        "cultivars",
        "methods",
        "packings",
        "recoveries",
        "seed_wordings",
        "six_month_storage",
    ]


@pytest.mark.parametrize("table", TABLES)
def test_every_row_has_mark_source_and_unit(table):
    rows = load_table(table, has_unit=table not in WITHOUT_UNIT)

    assert rows
    assert {row.cells["mark"] for row in rows} <= MARKS
    assert all(row.cells["source"] for row in rows)


@pytest.mark.parametrize("table", TABLES)
def test_no_cell_marks_a_figure_as_remembered(table):
    cells = [
        cell for line in csv.reader(io.StringIO((DATA / f"{table}.csv").read_text("utf-8"))) for cell in line
    ]

    assert [cell for cell in cells if cell.strip().casefold() == "memory"] == []


@pytest.mark.parametrize("table", TABLES)
def test_no_table_holds_the_same_line_twice(table):
    lines = (DATA / f"{table}.csv").read_text("utf-8").splitlines()

    assert len(lines) == len(set(lines))


def test_load_table_reads_a_table_once():
    assert load_table("packings", has_unit=True) is load_table("packings", has_unit=True)


def test_parse_table_refuses_a_row_without_unit():
    assert broken("oxygen,2,,read,a book\n") == "limits.csv, line 2: unit is empty"


def test_parse_table_refuses_a_row_without_source():
    assert broken("oxygen,2,%,read,\n") == "limits.csv, line 2: source is empty"


def test_parse_table_refuses_a_mark_that_is_no_evidence():
    assert broken("oxygen,2,%,memory,a book\n").startswith("limits.csv, line 2: mark must be one of")


@pytest.mark.parametrize("line", ["oxygen,2,%,read\n", "oxygen,2,%,read,a book,more\n"])
def test_parse_table_refuses_a_line_of_the_wrong_length(line):
    assert broken(line) == "limits.csv, line 2: too many or too few cells"


@pytest.mark.parametrize(
    ("cell", "what"),
    [("", "is empty"), ("two", "is not a number"), ("nan", "is not finite"), ("inf", "is not finite")],
)
def test_number_refuses_a_cell_that_is_none(cell, what):
    (row,) = parse_table("limits", f"{HEAD}oxygen,{cell},%,read,a book\n", has_unit=True)

    with pytest.raises(BrokenTable) as caught:
        row.number("value")
    assert str(caught.value) == f"limits.csv, line 2: value {what}"


def test_an_empty_number_that_may_be_missing_is_none():
    (row,) = parse_table("limits", f"{HEAD}oxygen,,%,read,a book\n", has_unit=True)

    assert row.number_or_none("value") is None
