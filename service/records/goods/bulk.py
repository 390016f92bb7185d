"""Writing and reading a grower's lots by the thousand: one statement for each table, past the unit of work."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import sqlalchemy as sa

from service.facts import Fact, field_names
from service.market.goods.lots import Lot
from service.market.goods.provenance import block_key
from service.market.matching.search import FIGURES_VERSION, SearchFigures
from service.records.goods import lots
from service.records.goods.lots import PLAIN, REPORT_FIELDS
from service.records.people import parties
from service.records.session import Session
from service.records.tables import Base, LotRow, PartyRow

AT_ONCE = 1000
TABLES = Base.metadata.tables
FIGURES = tuple(name for name in field_names(SearchFigures))
NO_FIGURES = SearchFigures()


class NewLot(Fact, frozen=True, kw_only=True):
    """A lot that is to be written, with what the search keeps of it."""

    lot: Lot
    year: int
    cultivar_key: str
    figures: SearchFigures | None


def add_lots(session: Session, new: Sequence[NewLot], *, grower_code: str, by: str, now: datetime) -> None:
    """Keep many new lots of a grower, whose row is locked; each leaves its lines in the trail."""
    grower_id = parties.get_row(session, "grower", grower_code).id
    for start in range(0, len(new), AT_ONCE):
        part = new[start : start + AT_ONCE]
        connection = session.connection()
        connection.execute(sa.insert(TABLES["lot"]), [_lot(one, grower_id) for one in part])
        query = sa.select(LotRow.code, LotRow.id).where(LotRow.code.in_([one.lot.code for one in part]))
        ids = {row.code: row.id for row in session.execute(query)}
        for table, rows in _parts(part, ids):
            if rows:
                connection.execute(sa.insert(TABLES[table]), rows)
        connection.execute(sa.insert(TABLES["change"]), list(_changes(part, grower_code, by, now)))


def take_numbers(session: Session, grower_code: str, *, count: int) -> int:
    """Take so many numbers for a grower's lots at once; gives the first."""
    row = parties.get_row(session, "grower", grower_code, lock=True)
    row.things_made += count
    session.flush()
    return row.things_made - count + 1


def _lot(one: NewLot, grower_id: int) -> dict[str, Any]:
    lot, figures = one.lot, one.figures or NO_FIGURES
    return {
        "code": lot.code,
        "grower_id": grower_id,
        "cultivar_key": one.cultivar_key,
        "packing": lot.packing,
        "block_key": block_key(lot.block) if lot.block else None,
        **{name: getattr(lot, name) for name in PLAIN},
        **{f"search_{name}": getattr(figures, name) for name in FIGURES},
        "search_version": FIGURES_VERSION,
    }


def _parts(part: Sequence[NewLot], ids: Mapping[str, int]) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    def of(name: str, names: tuple[str, ...]) -> list[dict[str, Any]]:
        return [
            {"lot_id": ids[one.lot.code], **{n: getattr(thing, n) for n in names}}
            for one in part
            for thing in getattr(one.lot, name)
        ]

    yield "storage_spell", of("spells", ("began_on", "packing", "stored_at_c", "residual_oxygen_percent"))
    yield "package", of("packages", ("kind", "count", "net_kg"))
    yield "lab_report", of("reports", REPORT_FIELDS)
    held = [
        {
            "lot_id": ids[one.lot.code],
            "scheme_key": c.key,
            **{n: getattr(c, n) for n in ("kind", "scheme", "certifier", "number", "valid_until")},
        }
        for one in part
        for c in one.lot.certifications
    ]
    yield "certification", held


def _changes(part: Sequence[NewLot], grower_code: str, by: str, now: datetime) -> Iterator[dict[str, Any]]:
    """The trail of what was written past the unit of work, in the same words."""
    for one in part:
        told = {"at": now, "by": by, "act": "made", "lot_code": one.lot.code, "grower_code": grower_code}
        yield {**told, "kind": "lot", "code": one.lot.code, "fields": _told(one.lot, PLAIN)}
        for report in one.lot.reports:
            fields_told = _told(report, REPORT_FIELDS)
            yield {**told, "kind": "lab_report", "code": report.code, "fields": fields_told}


def _told(thing: Any, names: tuple[str, ...]) -> dict[str, list[Any]]:
    return {name: [None, _plain(value)] for name in names if (value := getattr(thing, name)) is not None}


def _plain(value: Any) -> Any:
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, date | datetime):
        return value.isoformat()
    return dict(value) if isinstance(value, Mapping) else value


def all_lots(session: Session, *, grower_code: str, now: datetime) -> list[Lot]:
    """Every lot of a grower, in the order in which they came into the books."""
    query = (
        sa.select(LotRow.code)
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .where(PartyRow.code == grower_code)
        .order_by(LotRow.id)
    )
    codes = list(session.scalars(query))
    found: list[Lot] = []
    for start in range(0, len(codes), AT_ONCE):
        part = codes[start : start + AT_ONCE]
        by_code = lots.get_many(session, part, now=now)
        found += [by_code[code] for code in part]
    return found
