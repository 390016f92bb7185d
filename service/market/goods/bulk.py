"""Many lots at once: what a row asks for, what is wrong with it, and what was done."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.errors import Refusal
from service.facts import Fact, field
from service.market.goods.lots import READINESS, Package, StorageSpell
from service.market.goods.provenance import Certification

FAULTS_SHOWN = 200
MODES = ("all_or_nothing", "row_by_row")


class RowFault(Fact, frozen=True, kw_only=True):
    """What is wrong with a row; `column` is as the file names it, None where the row as a whole is meant."""

    row: int
    column: str | None
    detail: str


class AskedReport(Fact, frozen=True, kw_only=True):
    """A lab report as its row asks for it."""

    number: int
    asked: Mapping[str, Any]


class AskedLot(Fact, frozen=True, kw_only=True):
    """A lot as its rows ask for it; `columns` tells by field what the file calls it."""

    number: int
    asked: Mapping[str, Any]
    reports: tuple[AskedReport, ...] = ()
    spells: tuple[StorageSpell, ...] = ()
    list_as: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)


class ImportReport(Fact, frozen=True, kw_only=True):
    """What an import did, or would do; beyond 200 faults only their number is told."""

    rows: int
    lots: int
    written: int
    is_dry_run: bool
    lot_codes: tuple[str, ...]
    faults: tuple[RowFault, ...]
    faults_in_all: int
    notes: tuple[str, ...] = ()


def faults_of(refusal: Refusal, row: int, columns: Mapping[str, str]) -> list[RowFault]:
    """A refusal as faults of a row, each at the column it is about."""

    def at(name: str | None) -> str | None:
        return columns.get(name, name) if name else None

    facts: Mapping[str, Any] = refusal.facts
    if facts.get("errors"):
        return [
            RowFault(
                row=row,
                column=at(str(error.get("pointer", "")).removeprefix("#/").partition("/")[0] or None),
                detail=str(error["detail"]),
            )
            for error in facts["errors"]
        ]
    if facts.get("faults"):
        return [
            RowFault(row=row, column=at(fault.get("field")), detail=str(fault["detail"]))
            for fault in facts["faults"]
        ]
    if facts.get("missing"):
        return [
            RowFault(row=row, column=at(name), detail=f"{name} is wanted to list the lot so")
            for name in facts["missing"]
        ]
    name = facts.get("name")
    return [RowFault(row=row, column=at(name if isinstance(name, str) else None), detail=refusal.detail)]


# Lists in one cell: parts separated by semicolons, words within a part by spaces.


def packages_text(packages: Sequence[Package]) -> str:
    """Packages in one cell.

    >>> from decimal import Decimal
    >>> packages_text([Package(kind="box", count=6, net_kg=Decimal("20.5"))])
    '6 box 20.5 kg'

    """
    return "; ".join(f"{p.count} {p.kind} {p.net_kg} kg" for p in packages)


def spells_text(spells: Sequence[StorageSpell]) -> str:
    """Storage spells in one cell.

    >>> from datetime import date
    >>> spells_text([StorageSpell(began_on=date(2026, 8, 29), packing="open", stored_at_c=18.0)])
    '2026-08-29 open 18.0'

    """
    return "; ".join(
        f"{s.began_on} {s.packing} {s.stored_at_c!r}"
        + (f" oxygen {s.residual_oxygen_percent!r}" if s.residual_oxygen_percent is not None else "")
        for s in spells
    )


def certifications_text(held: Sequence[Certification]) -> str:
    """Certifications in one cell; a bar stands between the words of one, so that names may hold spaces."""
    return "; ".join(
        " | ".join((c.kind, c.scheme, c.certifier, c.number, c.valid_until.isoformat())) for c in held
    )


def named_text(values: Mapping[str, Any]) -> str:
    """Named numbers in one cell.

    >>> named_text({"myrcene": 48.0, "humulene": 24.5})
    'myrcene 48.0; humulene 24.5'

    """
    return "; ".join(f"{name} {value!r}" for name, value in values.items())


def listed_as(readiness: str | None) -> str | None:
    """How a lot is to be listed; None leaves it a draft."""
    return readiness if readiness in READINESS else None
