"""From the rows of a file to what they ask for: cells read, lots and their reports put together, faults named."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import marshmallow as ma

from service.api.goods.bulk_columns import Column, find_columns
from service.api.goods.lab_reports import AbsorbanceBody, LabReportBody
from service.api.goods.lot_schemas import LotBody
from service.errors import OutOfRange
from service.facts import Fact, field, replace
from service.files.cells import DecimalMark, decimal_mark
from service.files.tables import Table, TableRow
from service.market.goods.bulk import AskedLot, AskedReport, RowFault


class ReadFile(Fact):
    """What a file asks for: `lots` gives them one by one, and `faults` grows with what could not be read.

    A lot with such a fault is not given. Rows of one lot stand together, so that no more than one is kept in hand.
    """

    table: Table
    faults: list[RowFault] = field(default_factory=list)
    lots_given: int = 0

    def lots(self) -> Iterator[AskedLot]:
        """Each lot with its reports; all faults are found, not only the first."""
        columns, header_faults = find_columns(self.table.header)
        self.faults += [RowFault(row=1, column=name, detail=detail) for name, detail in header_faults]
        if header_faults:
            return
        mark = decimal_mark(cell for row in self.table.rows for cell in row.cells)
        hand = _Hand()
        for row in self.table.rows:
            parts, columns_of, faults = _cells(row, columns, mark)
            if not hand.holds(parts):
                yield from self._give(hand)
                hand, begun = hand.next_lot(parts), _begin(row.number, parts, columns_of)
                hand.lot, wrong = begun
                faults += wrong + hand.faults_of_key(row.number)
            elif parts["lot"] or parts["spells"] or parts["list_as"]:
                text = f"{hand.key} stands in a row above; here only another report of it is told"
                faults.append(RowFault(row=row.number, column="lot", detail=text))
            faults += hand.add_report(row.number, parts)
            self.faults += faults
            hand.is_broken = hand.is_broken or bool(faults)
        yield from self._give(hand)

    def _give(self, hand: "_Hand") -> Iterator[AskedLot]:
        if hand.lot is not None and not hand.is_broken:
            self.lots_given += 1
            yield hand.lot


class _Hand(Fact):
    """The lot whose rows are being read."""

    lot: AskedLot | None = None
    key: str | None = None
    is_broken: bool = False
    keys: set[str] = field(default_factory=set)
    is_known: bool = False

    def holds(self, parts: "Parts") -> bool:
        key = parts["key"].get("lot")
        return key is not None and key == self.key

    def next_lot(self, parts: "Parts") -> "_Hand":
        key = parts["key"].get("lot")
        known = key in self.keys
        if key is not None:
            self.keys.add(key)
        return _Hand(key=key, keys=self.keys, is_known=known)

    def faults_of_key(self, number: int) -> list[RowFault]:
        if not self.is_known:
            return []
        text = f"{self.key} stands further up; put the rows of one lot together"
        return [RowFault(row=number, column="lot", detail=text)]

    def add_report(self, number: int, parts: "Parts") -> list[RowFault]:
        if self.lot is None or not any(parts[part] for part in OF_REPORT):
            return []
        asked, faults = _report(number, parts)
        self.lot = replace(self.lot, reports=(*self.lot.reports, AskedReport(number=number, asked=asked)))
        return faults


def _defaults(body: type[ma.Schema]) -> dict[str, Any]:
    return {
        name: declared.load_default() if callable(declared.load_default) else declared.load_default
        for name, declared in body().fields.items()
        if declared.load_default is not ma.missing
    }


LOT_REQUIRED, REPORT_REQUIRED, ABSORBANCE_REQUIRED = (
    tuple(name for name, declared in body().fields.items() if declared.required)
    for body in (LotBody, LabReportBody, AbsorbanceBody)
)
OF_REPORT = ("report", "absorbance", "methods")
PARTS = ("key", "lot", "spells", "list_as", *OF_REPORT)
LOT_DEFAULTS, REPORT_DEFAULTS = _defaults(LotBody), _defaults(LabReportBody)


Parts = dict[str, dict[str, Any]]


def _cells(
    row: TableRow, columns: Sequence[Column | None], mark: DecimalMark
) -> tuple[Parts, dict[str, str], list[RowFault]]:
    parts: Parts = {name: {} for name in PARTS}
    columns_of: dict[str, str] = {}
    faults = []
    for place, cell in enumerate(row.cells):
        column = columns[place] if place < len(columns) else None
        if cell is None or cell == "":
            continue
        if column is None:
            faults.append(
                RowFault(row=row.number, column=None, detail=f"cell {place + 1} stands under no name")
            )
            continue
        columns_of[column.field] = column.name
        try:
            parts[column.part][column.field] = column.read(cell, mark)
        except OutOfRange as problem:
            faults.append(RowFault(row=row.number, column=column.name, detail=problem.detail))
        except ma.ValidationError as problem:
            faults.append(RowFault(row=row.number, column=column.name, detail=_words(problem.messages)))
    return parts, columns_of, faults


def _words(messages: Any) -> str:
    if isinstance(messages, Mapping):
        return "; ".join(f"{name}: {_words(inner)}" for name, inner in messages.items())
    if isinstance(messages, list):
        return " ".join(_words(inner) for inner in messages)
    return str(messages)


def _begin(number: int, parts: Parts, columns_of: Mapping[str, str]) -> tuple[AskedLot, list[RowFault]]:
    lot = AskedLot(
        number=number,
        asked=LOT_DEFAULTS | parts["lot"],
        spells=parts["spells"].get("storage_history", ()),
        list_as=parts["list_as"].get("list_as"),
        columns=columns_of,
    )
    return lot, _missing(number, parts["lot"], LOT_REQUIRED, columns_of)


def _missing(
    number: int, told: Mapping[str, Any], wanted: tuple[str, ...], columns_of: Mapping[str, str]
) -> list[RowFault]:
    # A cell that was told and could not be read is a fault already.
    return [
        RowFault(row=number, column=name, detail=f"{name} is wanted")
        for name in wanted
        if name not in told and name not in columns_of
    ]


def _report(number: int, parts: Parts) -> tuple[dict[str, Any], list[RowFault]]:
    told = dict(parts["report"])
    faults = _missing(number, told, REPORT_REQUIRED, {})
    absorbance = parts["absorbance"]
    if absorbance:
        faults += [
            RowFault(
                row=number, column=f"absorbance_{name}", detail="the three absorbances are given together"
            )
            for name in ABSORBANCE_REQUIRED
            if name not in absorbance
        ]
        told["absorbance"] = absorbance
    return REPORT_DEFAULTS | told | {"methods": parts["methods"]}, faults
