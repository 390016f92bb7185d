"""Lots: get, find, add, change; a lot comes with its spells, packages and lab reports."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from functools import cache
from typing import Any, TypeVar

import sqlalchemy as sa

from service.errors import NotFound
from service.facts import Fact, as_dict, field_names
from service.market.goods.lab_reports import LabReport
from service.market.goods.lots import Lot, Package, StorageSpell
from service.market.goods.provenance import Certification, block_key
from service.market.goods.temperature_logs import TemperatureLog
from service.market.matching.search import FIGURES_VERSION, SearchFigures
from service.market.matching.search_figures import figures_to_keep
from service.records.people import parties
from service.records.session import Session
from service.records.tables import (
    CertificationRow,
    LabReportRow,
    LotRow,
    PackageRow,
    PartyRow,
    ReservationRow,
    SpellRow,
    TemperatureLogRow,
)

# What does not stand in a column of the lot's own row under its own name.
ELSEWHERE = {"code", "grower_code", "held_kg", "packages", "spells", "certifications", "reports", "logs"}
PLAIN = tuple(name for name in field_names(Lot) if name not in ELSEWHERE)
T = TypeVar("T", bound=Fact)
REPORT_FIELDS = tuple(name for name in field_names(LabReport))
LOG_FIELDS = tuple(name for name in field_names(TemperatureLog))


def get(session: Session, code: str, *, now: datetime, lock: bool = False) -> Lot:
    """One lot; with `lock` nobody else changes it before this transaction ends.

    Raises:
        NotFound: there is none of that code.

    """
    if lock:
        get_row(session, code, lock=True)
    found = get_many(session, [code], now=now).get(code)
    if found is None:
        raise NotFound(f"there is no lot {code}")
    return found


def get_row(session: Session, code: str, *, lock: bool = False) -> LotRow:
    """The row of a lot; for the other files of this room."""
    query = sa.select(LotRow).where(LotRow.code == code).execution_options(populate_existing=lock)
    row = session.scalar(query.with_for_update() if lock else query)
    if row is None:
        raise NotFound(f"there is no lot {code}")
    return row


def lock(session: Session, codes: Iterable[str], *, now: datetime) -> dict[str, Lot]:
    """Several lots, all locked in the order of their codes, so that no two writers wait for each other.

    Raises:
        NotFound: there is none of one of the codes.

    """
    wanted = sorted(set(codes))
    for code in wanted:
        get_row(session, code, lock=True)
    return get_many(session, wanted, now=now)


def get_many(session: Session, codes: Iterable[str], *, now: datetime) -> dict[str, Lot]:
    """Lots by code, those that there are: six statements, however many lots are asked for."""
    rows = session.execute(_many_lots(), {"codes": sorted(set(codes)), "now": now}).all()
    ids = [row.id for row in rows]
    packages = _parts(session, PackageRow, Package, ids)
    spells = _parts(session, SpellRow, StorageSpell, ids)
    certifications = _parts(session, CertificationRow, Certification, ids)
    reports = _parts(session, LabReportRow, LabReport, ids)
    logs = _parts(session, TemperatureLogRow, TemperatureLog, ids)
    return {
        code: Lot(
            code=code,
            grower_code=grower_code,
            held_kg=held_kg or Decimal(0),
            packages=packages.get(lot_id, ()),
            spells=spells.get(lot_id, ()),
            certifications=certifications.get(lot_id, ()),
            reports=reports.get(lot_id, ()),
            logs=logs.get(lot_id, ()),
            **dict(zip(PLAIN, plain, strict=True)),
        )
        for lot_id, code, grower_code, held_kg, *plain in rows
    }


@cache
def _many_lots() -> sa.Select[Any]:
    """The statement is made once: building it costs more than running it."""
    lot, party = LotRow.__table__, PartyRow.__table__
    now = sa.bindparam("now", type_=ReservationRow.__table__.c.held_until.type)
    return (
        sa.select(lot.c.id, lot.c.code, party.c.code, held_kg_column(now), *(lot.c[name] for name in PLAIN))
        .join(party, party.c.id == lot.c.grower_id)
        .where(lot.c.code.in_(sa.bindparam("codes", expanding=True)))
    )


@cache
def _many_parts(rows: Any, names: tuple[str, ...]) -> sa.Select[Any]:
    part = rows.__table__
    return (
        sa.select(part.c.lot_id, *(part.c[name] for name in names))
        .where(part.c.lot_id.in_(sa.bindparam("lot_ids", expanding=True)))
        .order_by(part.c.id)
    )


def _parts(session: Session, rows: Any, kind: type[T], lot_ids: list[int]) -> dict[int, tuple[T, ...]]:
    """The parts of several lots as facts, by the lot's number, in the order they were made."""
    if not lot_ids:
        return {}
    names = field_names(kind)
    found: dict[int, list[T]] = {}
    for row in session.execute(_many_parts(rows, names), {"lot_ids": lot_ids}):
        found.setdefault(row[0], []).append(kind(**dict(zip(names, row[1:], strict=True))))
    return {lot_id: tuple(parts) for lot_id, parts in found.items()}


def search_own(
    session: Session,
    *,
    grower_code: str | None,
    state: str | None,
    after: str | None,
    limit: int,
    now: datetime,
) -> list[Lot]:
    """Lots of one grower (None: of all) in any state, in the order of their codes."""
    query = (
        sa.select(LotRow.code)
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .order_by(LotRow.code)
        .limit(limit)
    )
    if grower_code is not None:
        query = query.where(PartyRow.code == grower_code)
    if state == "sold_out":
        query = query.where(LotRow.state == "listed", free_kg_column(now) <= 0)
    elif state == "listed":
        query = query.where(LotRow.state == "listed", free_kg_column(now) > 0)
    elif state is not None:
        query = query.where(LotRow.state == state)
    if after is not None:
        query = query.where(LotRow.code > after)
    codes = session.scalars(query).all()
    found = get_many(session, codes, now=now) if codes else {}
    return [found[code] for code in codes]


def search_of_cultivar(session: Session, *, grower_code: str, cultivar_key: str, now: datetime) -> list[Lot]:
    """A grower's lots of a cultivar that were ever listed, oldest harvest first."""
    query = (
        sa.select(LotRow.code)
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .where(
            PartyRow.code == grower_code,
            LotRow.cultivar_key == cultivar_key,
            LotRow.first_listed_on.is_not(None),
        )
        .order_by(LotRow.harvested_on, LotRow.id)
    )
    codes = session.scalars(query).all()
    found = get_many(session, codes, now=now) if codes else {}
    return [found[code] for code in codes]


def add(session: Session, lot: Lot, *, cultivar_key: str) -> None:
    """Keep a new lot."""
    row = LotRow(code=lot.code, grower_id=parties.get_row(session, "grower", lot.grower_code).id)
    _write(row, lot, cultivar_key)
    session.add(row)
    session.flush()


def next_code(session: Session, grower_code: str, *, year: int) -> str:
    """The next code of a grower's lots; the grower's row stays locked, so that none is given twice."""
    number = parties.next_number(session, "grower", grower_code)
    return f"{grower_code}-{year}-{number:02d}"


def change(session: Session, lot: Lot, *, cultivar_key: str | None = None) -> None:
    """Write what changed of a lot, and the search's figures that follow from it; a key of None stays as it is.

    The figures are worked out here, so that no caller can leave a listed lot without them.
    """
    row = get_row(session, lot.code)
    _write(row, lot, cultivar_key)
    kept = figures_to_keep(lot) or SearchFigures()
    for name in field_names(SearchFigures):
        setattr(row, f"search_{name}", getattr(kept, name))
    row.search_version = FIGURES_VERSION
    session.flush()


def take(session: Session, code: str, mass_kg: Decimal) -> None:
    """Count a mass as taken from a lot (or, negative, as given back)."""
    row = get_row(session, code)
    row.taken_kg = row.taken_kg + mass_kg
    session.flush()


def cultivar_key(session: Session, code: str) -> str:
    """The key under which a search finds a lot by its cultivar."""
    return get_row(session, code).cultivar_key


def change_packages(session: Session, code: str, packages: Iterable[Package]) -> None:
    """Write what is left of a lot's packages; the lot is locked already."""
    row = get_row(session, code)
    row.packages = [PackageRow(kind=p.kind, count=p.count, net_kg=p.net_kg) for p in packages]
    session.flush()


def remove(session: Session, code: str) -> None:
    """Take a draft out of the books."""
    session.delete(get_row(session, code))
    session.flush()


def is_committed_to(session: Session, code: str, *, brewery_code: str) -> bool:
    """Whether a brewery holds, or held, a promise on a lot; what was released counts no more."""
    query = (
        sa.select(ReservationRow.id)
        .join(LotRow, LotRow.id == ReservationRow.lot_id)
        .join(PartyRow, PartyRow.id == ReservationRow.brewery_id)
        .where(LotRow.code == code, PartyRow.code == brewery_code, ReservationRow.state != "released")
        .limit(1)
    )
    return session.scalar(query) is not None


def free_kg_column(now: datetime | sa.BindParameter[datetime]) -> sa.ColumnElement[Decimal]:
    """What is free of a lot, in SQL; the same sum as `Lot.free_kg`."""
    return untaken_kg_column() - held_kg_column(now)


def untaken_kg_column() -> sa.ColumnElement[Decimal]:
    """What is left of a lot before its holds are taken off, in SQL."""
    stock = sa.func.coalesce(LotRow.mass_kg, LotRow.expected_kg, sa.literal(Decimal(0), LotRow.mass_kg.type))
    return stock - LotRow.taken_kg


def held_kg_column(now: datetime | sa.BindParameter[datetime]) -> sa.ColumnElement[Decimal]:
    """What holds that have not expired keep of a lot, in SQL."""
    held = sa.func.sum(ReservationRow.mass_kg)
    return (
        sa.select(sa.func.coalesce(held, sa.literal(Decimal(0), ReservationRow.mass_kg.type)))
        .where(
            ReservationRow.lot_id == LotRow.id,
            ReservationRow.state == "held",
            ReservationRow.held_until > now,
        )
        .correlate(LotRow)
        .scalar_subquery()
    )


def _write(row: LotRow, lot: Lot, cultivar_key: str | None) -> None:
    for name in PLAIN:
        setattr(row, name, getattr(lot, name))
    if cultivar_key is not None:
        row.cultivar_key = cultivar_key
    row.packing = lot.packing
    row.block_key = block_key(lot.block) if lot.block else None
    packages = [{"kind": p.kind, "count": p.count, "net_kg": p.net_kg} for p in lot.packages]
    _match(row.packages, packages, PackageRow)
    _match(row.spells, [as_dict(spell) for spell in lot.spells], SpellRow)
    _match(row.certifications, [_certification(c) for c in lot.certifications], CertificationRow)
    _match(row.reports, [{n: getattr(r, n) for n in REPORT_FIELDS} for r in lot.reports], LabReportRow)
    _match(row.logs, [{n: getattr(log, n) for n in LOG_FIELDS} for log in lot.logs], TemperatureLogRow)


def _certification(held: Certification) -> dict[str, Any]:
    return {"scheme_key": held.key, **as_dict(held)}


def _match(rows: list[Any], wanted: list[dict[str, Any]], kind: type) -> None:
    """Write facts over the rows there are, in order, and add those that are missing."""
    for row, values in zip(rows, wanted, strict=False):
        for name, value in values.items():
            setattr(row, name, _plain(value))
    for values in wanted[len(rows) :]:
        rows.append(kind(**{name: _plain(value) for name, value in values.items()}))
    del rows[len(wanted) :]


def _plain(value: Any) -> Any:
    return dict(value) if isinstance(value, Mapping) else value
