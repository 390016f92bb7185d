"""The columns of a file of lots: what each is called, in which units it may come, and how its cell is read.

The fields are those of the JSON bodies, so that a file is judged by the same bounds as a body.
"""

import difflib
import re
from collections.abc import Callable, Iterator, Mapping
from decimal import ROUND_HALF_EVEN, Decimal
from itertools import pairwise
from typing import Any

import marshmallow as ma

from service.api.fields import Day, Flag, Kilograms, Money, Number, Whole
from service.api.goods.lab_reports import AbsorbanceBody, DilutionBody, LabReportBody
from service.api.goods.lot_schemas import CertificationBody, LotBody, PackageBody
from service.errors import OutOfRange
from service.facts import Fact
from service.files.cells import DecimalMark, read_day, read_flag, read_number, read_text
from service.files.tables import Cell
from service.market.goods.bulk import listed_as
from service.market.goods.lots import PACKINGS, READINESS, StorageSpell
from service.reference.methods import GROUPS as METHOD_GROUPS
from service.science import customary

# Decimal, since goods and money are: the text of the factor is exact.
KG_PER_LB = Decimal(str(customary.KG_PER_LB))
KG_PER_OZ = KG_PER_LB / 16
GRAM, MONEY_STEP = Decimal("0.001"), Decimal("0.0001")
ABSORBANCES = ("a275", "a325", "a355", "dilution_factor")
Read = Callable[[Cell, DecimalMark], Any]


class Column(Fact, frozen=True, kw_only=True):
    """One column: its name with the unit last, the part of the body it fills, and how its cell is read."""

    name: str
    part: str
    field: str
    read: Read
    words: str = ""


def _by_field(declared: ma.fields.Field[Any], convert: Callable[[Decimal], Decimal] | None = None) -> Read:
    """Read a cell as the JSON body reads a value."""

    def read(cell: Cell, mark: DecimalMark) -> Any:
        value: Any
        if isinstance(declared, Number | Whole | Kilograms | Money):
            value = read_number(cell, mark)
            value = convert(value) if convert else value
        elif isinstance(declared, Day):
            value = read_day(cell)
        elif isinstance(declared, Flag):
            value = read_flag(cell)
        else:
            value = read_text(cell)
        return declared.deserialize(value)

    return read


def _weight(unit_kg: Decimal) -> Callable[[Decimal], Decimal]:
    return lambda value: (value * unit_kg).quantize(GRAM, ROUND_HALF_EVEN)


def _per_weight(unit_kg: Decimal) -> Callable[[Decimal], Decimal]:
    return lambda value: (value / unit_kg).quantize(MONEY_STEP, ROUND_HALF_EVEN)


def _celsius(value: Decimal) -> Decimal:
    return ((value - 32) * 5 / 9).quantize(Decimal("0.01"), ROUND_HALF_EVEN)


def _parts(text: Cell) -> list[str]:
    return [part.strip() for part in re.split(r"[;\n]", read_text(text)) if part.strip()]


def _packages(cell: Cell, _mark: DecimalMark) -> list[Any]:
    found = []
    for part in _parts(cell):
        words = part.split()
        if len(words) != 4 or words[3] not in ("kg", "lb"):
            raise OutOfRange(f"{part!r} is no packages; write 6 box 20 kg; 1 foil 0.5 kg", name="packages")
        net = read_number(words[2], DecimalMark.UNTOLD)
        net = net if words[3] == "kg" else (net * KG_PER_LB).quantize(GRAM, ROUND_HALF_EVEN)
        told = {"count": read_number(words[0]), "kind": words[1], "net_kg": net}
        found.append(PackageBody().load(told))
    return found


def _certifications(cell: Cell, _mark: DecimalMark) -> list[Any]:
    names = ("kind", "scheme", "certifier", "number", "valid_until")
    found = []
    for part in _parts(cell):
        words = [word.strip() for word in part.split("|")]
        if len(words) != len(names):
            raise OutOfRange(
                f"{part!r} is no certification; write kind | scheme | certifier | number | 2027-12-31",
                name="certifications",
            )
        found.append(CertificationBody().load(dict(zip(names, words, strict=True))))
    return found


def _spells(cell: Cell, _mark: DecimalMark) -> tuple[StorageSpell, ...]:
    stored, oxygen = (
        LotBody().fields["stored_at_c"],
        LotBody().fields["residual_oxygen_percent"],
    )
    found = []
    for part in _parts(cell):
        words = part.split()
        if len(words) not in (3, 5) or words[1] not in PACKINGS or (len(words) == 5 and words[3] != "oxygen"):
            raise OutOfRange(
                f"{part!r} is no storage; write 2026-08-29 bale_cloth 18; 2026-10-01 barrier_vacuum -2 oxygen 0.5",
                name="storage_history",
            )
        found.append(
            StorageSpell(
                began_on=Day().deserialize(read_day(words[0])),
                packing=words[1],
                stored_at_c=stored.deserialize(read_number(words[2])),
                residual_oxygen_percent=oxygen.deserialize(read_number(words[4]))
                if len(words) == 5
                else None,
            )
        )
    if any(a.began_on >= b.began_on for a, b in pairwise(found)):
        raise OutOfRange("each storage spell begins after the one before", name="storage_history")
    return tuple(found)


def _named(declared: ma.fields.Field[Any]) -> Read:
    def read(cell: Cell, _mark: DecimalMark) -> Any:
        told = {}
        for part in _parts(cell):
            name, _, value = part.partition(" ")
            told[name] = read_number(value)
        return declared.deserialize(told)

    return read


def _dilution(cell: Cell, _mark: DecimalMark) -> Any:
    return DilutionBody().load({name: read_number(value) for name, _, value in map(_pair, _parts(cell))})


def _pair(part: str) -> tuple[str, str, str]:
    return part.partition(" ")


def _list_as(cell: Cell, _mark: DecimalMark) -> str:
    text = read_text(cell)
    if listed_as(text) is None:
        raise OutOfRange(f"{text!r} is no way to list a lot: {', '.join(READINESS)}", name="list_as")
    return text


def _columns() -> Iterator[Column]:
    lot, report, absorbance = (body().fields for body in (LotBody, LabReportBody, AbsorbanceBody))
    yield Column(name="lot", part="key", field="lot", read=lambda cell, _: read_text(cell))
    for name, declared in lot.items():
        if name in ("grower_code", "packages", "certifications"):
            continue
        yield Column(name=name, part="lot", field=name, read=_by_field(declared))
    for name, field, unit_kg in (
        ("mass_lb", "mass_kg", KG_PER_LB),
        ("mass_oz", "mass_kg", KG_PER_OZ),
        ("expected_lb", "expected_kg", KG_PER_LB),
        ("order_lb_min", "order_kg_min", KG_PER_LB),
    ):
        yield Column(name=name, part="lot", field=field, read=_by_field(lot[field], _weight(unit_kg)))
    price = _by_field(lot["price_per_kg"], _per_weight(KG_PER_LB))
    yield Column(name="price_per_lb", part="lot", field="price_per_kg", read=price)
    yield Column(
        name="stored_at_f", part="lot", field="stored_at_c", read=_by_field(lot["stored_at_c"], _celsius)
    )
    yield Column(name="packages", part="lot", field="packages", read=_packages)
    yield Column(name="certifications", part="lot", field="certifications", read=_certifications)
    yield Column(name="storage_history", part="spells", field="storage_history", read=_spells)
    yield Column(name="list_as", part="list_as", field="list_as", read=_list_as)
    left_out = ("grower_code", "brewery_code", "corrects", "reason", "absorbance", "methods")
    for name, declared in report.items():
        if name in ("oil_shares_percent", "uncertainty"):
            yield Column(name=name, part="report", field=name, read=_named(declared))
        elif name not in left_out:
            yield Column(name=name, part="report", field=name, read=_by_field(declared))
    for name in ABSORBANCES:
        yield Column(
            name=f"absorbance_{name}", part="absorbance", field=name, read=_by_field(absorbance[name])
        )
    yield Column(name="absorbance_dilution", part="absorbance", field="dilution", read=_dilution)
    for group in METHOD_GROUPS:
        method = ma.fields.String(validate=ma.validate.Length(1, 40))
        yield Column(name=f"method_{group}", part="methods", field=group, read=_by_field(method))


COLUMNS: Mapping[str, Column] = {column.name: column for column in _columns()}


def find_columns(header: tuple[str, ...]) -> tuple[list[Column | None], list[tuple[str, str]]]:
    """The columns of a header, and each name that cannot be, with what may be meant."""
    found: list[Column | None] = []
    faults: list[tuple[str, str]] = []
    seen: dict[tuple[str, str], str] = {}
    for place, told in enumerate(header, 1):
        name = re.sub(r"[\s-]+", "_", told.strip().lower())
        column = COLUMNS.get(name)
        found.append(column)
        if not name:
            continue
        if column is None:
            near = difflib.get_close_matches(name, COLUMNS, n=2)
            hint = f"; {' or '.join(near)} may be meant" if near else ""
            faults.append((told or f"column {place}", f"no column is called so{hint}"))
            continue
        filled = (column.part, column.field)
        if filled in seen:
            faults.append((told, f"{seen[filled]} says the same; keep one of them"))
        seen[filled] = told
    return found, faults
