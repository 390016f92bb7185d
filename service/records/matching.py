"""What matching reads: one SELECT of columns that the database narrows, and a loosened one for near misses."""

import math
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa

from service.market.candidates import FIGURE_NUMBERS, LotColumns, column
from service.market.evidence import NO_EVIDENCE, Evidence, ReportedAlpha, gather_evidence
from service.market.lab_reports import LabReport
from service.market.lots import Package
from service.market.parties import chord_squared, distance_km
from service.market.requests import Request
from service.market.search import FINDS
from service.records.lots import REPORT_FIELDS, free_kg_column
from service.records.session import Session
from service.records.tables import LabReportRow, LotRow, PackageRow, PartyRow
from service.science.storage_index import log_resin_left_limit

CANDIDATES_MAX = 5000
NEAR_MISSES_READ = 200
FAILS_MAX = 2
# Room for the last digit of a floating-point number; the decision itself is made on exact columns.
SLACK = 2e-9
Place = tuple[float, float, float]


def candidates(
    session: Session,
    request: Request,
    *,
    cultivar_keys: tuple[str, ...],
    near: Place,
    today: date,
    now: datetime,
) -> LotColumns:
    """The lots that may meet a request, the nearest first, at most 5,000."""
    limits = _limits(request, cultivar_keys=cultivar_keys, near=near, today=today, now=now)
    query = _listed(now).where(*limits).order_by(_chord(near), LotRow.id).limit(CANDIDATES_MAX)
    return _columns(session, query, near)


def near_candidates(
    session: Session,
    request: Request,
    *,
    cultivar_keys: tuple[str, ...],
    near: Place,
    today: date,
    now: datetime,
) -> LotColumns:
    """Lots that fail one or two of the limits, the fewest failures first, at most 200."""
    limits = _limits(request, cultivar_keys=cultivar_keys, near=near, today=today, now=now)
    if not limits:
        return _columns(session, _listed(now).where(sa.false()), near)
    fails = sum((sa.case((limit, 0), else_=1) for limit in limits), sa.literal(0))
    query = (
        _listed(now)
        .where(fails >= 1, fails <= FAILS_MAX)
        .order_by(fails, _chord(near), LotRow.id)
        .limit(NEAR_MISSES_READ)
    )
    return _columns(session, query, near)


def reports_of(session: Session, codes: Sequence[str]) -> dict[str, list[LabReport]]:
    """The lab reports of a few lots, for what is said of each."""
    query = (
        sa.select(LotRow.code.label("lot_code"), LabReportRow)
        .join(LotRow, LotRow.id == LabReportRow.lot_id)
        .where(LotRow.code.in_(codes))
        .order_by(LabReportRow.id)
    )
    found: dict[str, list[LabReport]] = {code: [] for code in codes}
    for lot_code, row in session.execute(query):
        found[lot_code].append(LabReport(**{name: getattr(row, name) for name in REPORT_FIELDS}))
    return found


def _limits(
    request: Request, *, cultivar_keys: tuple[str, ...], near: Place, today: date, now: datetime
) -> list[sa.ColumnElement[bool]]:
    """The limits that a database can judge; a lot without a figure never passes a limit on it."""
    found: list[sa.ColumnElement[bool]] = []
    if request.role_strict:
        found.append(LotRow.role.in_(FINDS[request.role]))
    if request.cultivars and not request.accept_others:
        found.append(LotRow.cultivar_key.in_(cultivar_keys))
    if request.forms:
        found.append(LotRow.form.in_(request.forms))
    if request.packings:
        found.append(LotRow.packing.in_(request.packings))
    if request.within_km is not None:
        found.append(_chord(near) <= chord_squared(within_km=request.within_km) * (1 + SLACK) + 1e-15)
    if request.moisture_percent_max is not None:
        found.append(LotRow.search_moisture_percent <= request.moisture_percent_max)
    if request.oil_ml_per_100g_min is not None:
        found.append(LotRow.search_oil_ml_per_100g >= request.oil_ml_per_100g_min)
    return [*found, *_on_the_days(request, today), *_goods(request, now)]


def _on_the_days(request: Request, today: date) -> list[sa.ColumnElement[bool]]:
    due = [d.needed_on for d in request.deliveries if d.needed_on >= today] or [today]
    first, last = min(due), max(due)
    found: list[sa.ColumnElement[bool]] = []
    if request.alpha_percent_min is not None:
        found.append(LotRow.search_log_alpha - _gone(last) >= _log(request.alpha_percent_min) - SLACK)
    if request.alpha_percent_max is not None:
        found.append(LotRow.search_log_alpha - _gone(first) <= _log(request.alpha_percent_max) + SLACK)
    if request.hop_storage_index_max is not None:
        left = log_resin_left_limit(hop_storage_index_max=request.hop_storage_index_max) - SLACK
        found.append(LotRow.search_log_resin - _gone(last) >= left)
    return found


def _log(value: float) -> float:
    # Under every logarithm that is kept, and still a number that every database can hold.
    return math.log(value) if value > 0 else -1e9


def _gone(on: date) -> sa.ColumnElement[Any]:
    return LotRow.search_rate_per_day * (on.toordinal() - LotRow.search_day)


def _goods(request: Request, now: datetime) -> list[sa.ColumnElement[bool]]:
    found: list[sa.ColumnElement[bool]] = []
    if request.price_per_kg_max is not None:
        fits = sa.and_(LotRow.currency == request.currency, LotRow.price_per_kg <= request.price_per_kg_max)
        found.append(sa.or_(LotRow.price_per_kg.is_(None), fits))
    elif request.price_per_kg_alpha_max is not None:
        found.append(sa.or_(LotRow.price_per_kg.is_(None), LotRow.currency == request.currency))
    least = request.parcel_kg_min
    if request.lots_max == 1 and not request.wants_alpha:
        least = request.mass_kg
    if least is not None and not request.wants_alpha:
        found.append(free_kg_column(now) >= min(least, request.mass_kg))
    return found


def _chord(near: Place) -> sa.ColumnElement[float]:
    parts = [
        (own - value) * (own - value)
        for own, value in zip((PartyRow.unit_x, PartyRow.unit_y, PartyRow.unit_z), near, strict=True)
    ]
    return parts[0] + parts[1] + parts[2]


TEXTS = ("code", "cultivar", "cultivar_key", "role", "form", "packing", "readiness", "crop_year", "currency")
NUMBERS = ("price_per_kg", "order_kg_min")


def _listed(now: datetime) -> sa.Select[Any]:
    free_kg = free_kg_column(now)
    return (
        sa.select(
            LotRow.id,
            LotRow.sold_in,
            PartyRow.code.label("grower_code"),
            PartyRow.unit_x,
            PartyRow.unit_y,
            PartyRow.unit_z,
            free_kg.label("free_kg"),
            LotRow.search_alpha_method,
            *(getattr(LotRow, name) for name in (*TEXTS, *NUMBERS)),
            *(getattr(LotRow, f"search_{name}") for name in FIGURE_NUMBERS),
        )
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .where(LotRow.state == "listed", free_kg > 0)
    )


def _columns(session: Session, query: sa.Select[Any], near: Place) -> LotColumns:
    rows = session.execute(query).all()
    ids = [row.id for row in rows]
    packages = _packages(session, [row.id for row in rows if row.sold_in == "whole_packages"])
    evidence = _evidence(session, ids)
    made: dict[str, Any] = {name: [getattr(row, name) for row in rows] for name in TEXTS}
    made |= {name: column([getattr(row, name) for row in rows]) for name in (*NUMBERS, "free_kg")}
    made |= {name: column([getattr(row, f"search_{name}") for row in rows]) for name in FIGURE_NUMBERS}
    places = [(row.unit_x, row.unit_y, row.unit_z) for row in rows]
    return LotColumns(
        **made,
        grower_code=[row.grower_code for row in rows],
        sold_in=[row.sold_in for row in rows],
        alpha_method=[row.search_alpha_method for row in rows],
        distance_km=column([distance_km(place, near) for place in places]),
        packages={place: packages[lot_id] for place, lot_id in enumerate(ids) if lot_id in packages},
        evidence=[evidence.get(lot_id, NO_EVIDENCE) for lot_id in ids],
    )


def _packages(session: Session, ids: Sequence[int]) -> dict[int, tuple[Package, ...]]:
    found: dict[int, tuple[Package, ...]] = {}
    for some in _portions(ids):
        query = sa.select(PackageRow.lot_id, PackageRow.kind, PackageRow.count, PackageRow.net_kg)
        for row in session.execute(query.where(PackageRow.lot_id.in_(some)).order_by(PackageRow.id)):
            package = Package(kind=row.kind, count=row[2], net_kg=row.net_kg)
            found[row.lot_id] = (*found.get(row.lot_id, ()), package)
    return found


def _evidence(session: Session, ids: Sequence[int]) -> dict[int, Evidence]:
    reported: dict[int, list[ReportedAlpha]] = {}
    for some in _portions(ids):
        query = (
            sa.select(
                LabReportRow.lot_id,
                LabReportRow.alpha_percent,
                LabReportRow.basis,
                LabReportRow.moisture_percent,
                LabReportRow.methods,
                LabReportRow.drawn_by,
                LabReportRow.packages_cored,
            )
            .where(
                LabReportRow.lot_id.in_(some),
                LabReportRow.alpha_percent.is_not(None),
                LabReportRow.corrected_by.is_(None),
                LabReportRow.drawn_by != "buyer",
                LabReportRow.before_pelletizing.is_(False),
            )
            .order_by(LabReportRow.sampled_on, LabReportRow.id)
        )
        for row in session.execute(query):
            reported.setdefault(row.lot_id, []).append(_reported(row))
    return {lot_id: gather_evidence(reports) for lot_id, reports in reported.items()}


def _reported(row: Any) -> ReportedAlpha:
    dry = row.basis == "dry" and row.moisture_percent is not None
    as_is = row.alpha_percent * (100 - row.moisture_percent) / 100 if dry else row.alpha_percent
    return ReportedAlpha(
        alpha_percent=as_is,
        method=row.methods.get("alpha_beta"),
        drawn_by=row.drawn_by,
        packages_cored=row.packages_cored,
    )


def _portions(ids: Sequence[int], size: int = 900) -> list[Sequence[int]]:
    # A statement takes only so many parameters.
    return [ids[start : start + size] for start in range(0, len(ids), size)]
