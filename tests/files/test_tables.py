"""Files as spreadsheets of many countries save them, and files that are none."""

import contextlib
import io
import zipfile
from datetime import date

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from service.errors import UnreadableTable
from service.files import tables, workbooks
from service.files.tables import guarded, read_table, unguarded
from service.files.writing import write_csv, write_xlsx

HEADER, ROW = ("cultivar", "note"), ("Žatecký červeňák", '= no formula; "quoted", and\ntwo lines')
LINES = "cultivar;note\r\nSaphir;größer 12,5\r\n"


@pytest.mark.parametrize(
    ("content", "noted"),
    [
        (LINES.encode("utf-8"), 1),
        (LINES.encode("utf-8-sig"), 1),
        (LINES.encode("utf-16"), 1),
        (LINES.encode("cp1252"), 2),
        (LINES.replace(";", "\t").encode(), 1),
        (LINES.replace("12,5", "12.5").replace(";", ",").encode(), 0),
    ],
)
def test_a_file_of_another_locale_is_read(content: bytes, noted: int) -> None:
    table = read_table(content)

    assert table.header == HEADER
    assert table.rows[0].number == 2
    assert str(table.rows[0].cells[1]).startswith("größer 12")
    assert len(table.notes) == noted


def test_both_formats_come_back_as_they_went() -> None:
    rows = [ROW, ("Saphir", "'quoted"), ("Nugget", "@x"), ("Fuggle", None)]

    for content in (write_csv(HEADER, rows), write_xlsx(HEADER, rows, title="lots")):
        table = read_table(content)

        assert table.header == HEADER
        assert [row.cells for row in table.rows] == [*rows[:3], ("Fuggle",)]


def test_a_workbook_keeps_dates_and_numbers_and_never_a_formula() -> None:
    content = write_xlsx(("a", "b", "c"), [(date(2026, 8, 29), 12.5, "=1+1")], title="lots")

    assert read_table(content).rows[0].cells == (date(2026, 8, 29), 12.5, "=1+1")
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        sheet = archive.read("xl/worksheets/sheet1.xml")
    assert b"<f>" not in sheet


@given(st.text(max_size=12))
def test_guarded_text_is_no_formula_and_comes_back(text: str) -> None:
    assert unguarded(guarded(text)) == text
    assert not guarded(text).startswith(tables.FORMULA_STARTS)


def test_blank_rows_are_skipped_and_numbers_stay_those_of_the_sheet() -> None:
    table = read_table(b"\n\ncultivar,note\n,\nSaphir,x\n")

    assert [row.number for row in table.rows] == [5]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n\n",
        b"\x00\x01\x02",
        b"PK\x03\x04 no archive",
        b"\xff\xfeodd",
        b'cultivar\n"never closed\n',
        b"a\n" + b"x" * 20_001,
        b"a\n" + b"," * 200 + b"x\n",
    ],
)
def test_what_is_no_table_is_refused(content: bytes) -> None:
    with pytest.raises(UnreadableTable):
        read_table(content)


def archive(*members: tuple[str, bytes]) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in members:
            made.writestr(name, data)
    return content.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        archive(("xl/workbook.xml", b" " * 50_000_000)),
        archive(*((f"{n}.xml", b"x") for n in range(201))),
        archive(("xl/workbook.xml", b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]><x>&a;</x>')),
        archive(("readme.txt", b"no workbook")),
    ],
)
def test_a_workbook_that_unfolds_or_is_none_is_refused(content: bytes) -> None:
    with pytest.raises(UnreadableTable):
        read_table(content)


WHOLE = write_xlsx(HEADER, [(f"Saphir {n}", n * 37 % 101) for n in range(40)], title="lots")


@given(
    st.lists(st.tuples(st.integers(4, len(WHOLE) - 1), st.integers(0, 255)), min_size=1, max_size=6),
    st.integers(4, len(WHOLE)),
)
@example([(WHOLE.index(b".xml") + 6, 255)], len(WHOLE))
@example([], len(WHOLE) // 2)
def test_a_damaged_workbook_is_read_or_refused_and_nothing_else(
    changed: list[tuple[int, int]], cut: int
) -> None:
    content = bytearray(WHOLE)
    for place, value in changed:
        content[place] = value

    # Whatever else is raised fails the test: the sender would be told of a fault of the service.
    with contextlib.suppress(UnreadableTable):
        read_table(bytes(content[:cut]))


def test_too_many_rows_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "ROWS_MAX", 3)
    monkeypatch.setattr(workbooks, "READ_MAX", 5)

    with pytest.raises(UnreadableTable, match="over 3 rows"):
        read_table(b"a\n" + b"1\n" * 4)
    with pytest.raises(UnreadableTable, match="over 5 rows"):
        read_table(write_xlsx(("a",), [(1,), (2,), (None,), (None,), (None,), (3,)], title="x"))
