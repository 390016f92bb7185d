"""What matching reads: narrow columns of the lots that may meet a request, and of those that nearly do.

Distances are computed once for each grower. Lots are read from the nearest growers on until 5,000 fit, so
that a large region costs hardly more than a small one. Near misses come from a second SELECT over the
nearest growers, loosened to two failed limits, until 200 are found. The answer says when growers were left
out; a farther lot that fails by less may be missed then.
"""

import math
from collections.abc import Callable, Sequence
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from operator import itemgetter
from typing import Any

import numpy as np
import sqlalchemy as sa

from service.facts import Fact, field_names
from service.market.goods.lab_reports import LabReport
from service.market.goods.lots import Package
from service.market.matching.candidates import (
    FIGURE_NUMBERS,
    FIGURE_TEXTS,
    OWN_NUMBERS,
    OWN_TEXTS,
    Candidate,
    LotColumns,
    column,
)
from service.market.matching.requests import Request
from service.market.matching.scoring import weights_of
from service.market.matching.search import SearchFigures
from service.records.goods.certified import certifications_of
from service.records.goods.lots import REPORT_FIELDS, free_kg_column, untaken_kg_column
from service.records.matching.matching_growers import Growers, Place, growers_around, rows_of, turned
from service.records.matching.matching_limits import limits_in_sql
from service.records.session import Session
from service.records.tables import LabReportRow, LotRow, PackageRow, PartyRow, ReservationRow
from service.records.types import floats_of, unscaled
from service.science.arrays import Places

CANDIDATES_MAX = 5000
NEAR_MISSES_READ = 200
FAILS_MAX = 2
# A statement takes only so many parameters; so many growers or lots are named in one.
NAMED_MAX = 5000
# The lots of so many growers are read first; how many more, the first tell.
GROWERS_FIRST = 16


class NearLots(Fact, frozen=True, kw_only=True):
    """Lots that fail one or two of the limits; `growers` is how many growers were asked, None if all."""

    lots: LotColumns
    growers: int | None


def candidates(
    session: Session,
    request: Request,
    *,
    cultivar_keys: tuple[str, ...],
    near: Place,
    today: date,
    now: datetime,
    growers: Growers | None = None,
    lean: bool = False,
    certified: bool = False,
) -> LotColumns:
    """The lots that may meet a request, the nearest first, at most 5,000.

    With `lean` the columns stay empty that no limit and no part of the score of this request looks at. Certifications
    are read where the request wants some, or with `certified`.
    """
    growers = growers or growers_around(session, near)
    limits = limits_in_sql(request, cultivar_keys=cultivar_keys, today=today, now=now)
    left_out = _not_looked_at(request) if lean else frozenset()
    # To add up a lot's holds costs as much as to read it: that is done once, for lots that keep the limits.
    query = _columns_of_lots(left_out).where(LotRow.state == "listed", *limits, untaken_kg_column() > 0)
    order = growers.nearest(within_km=request.within_km)
    rows, _ = _from_the_nearest(
        session, query, growers, order, now=now, enough=CANDIDATES_MAX, free_at=FREE_AT
    )
    return _columns(session, rows, growers, left_out, certified=certified or bool(request.certifications))


def near_candidates(
    session: Session,
    request: Request,
    *,
    cultivar_keys: tuple[str, ...],
    near: Place,
    today: date,
    now: datetime,
    growers: Growers | None = None,
) -> NearLots:
    """Lots that fail one or two of the limits, the fewest failures first, at most 200."""
    growers = growers or growers_around(session, near)
    limits = limits_in_sql(request, cultivar_keys=cultivar_keys, today=today, now=now)
    fails = sum((sa.case((limit, 0), else_=1) for limit in limits), sa.literal(0))
    least, most = (1, FAILS_MAX) if request.within_km is None else (0, FAILS_MAX)
    query = sa.select(LotRow.id, LotRow.grower_id, fails.label("fails")).where(
        LotRow.state == "listed", fails.between(least, most), _free_kg() > 0
    )
    order = growers.nearest()
    rows, asked = _from_the_nearest(session, query, growers, order, now=now, enough=NEAR_MISSES_READ)
    ids, grower_ids, failed = (np.array(told, dtype=np.int64) for told in turned(rows, 3))
    km = growers.km[growers.places_of(grower_ids)]
    if request.within_km is not None:
        failed = failed + (km > request.within_km)
    close = np.flatnonzero((failed >= 1) & (failed <= FAILS_MAX))
    chosen = ids[close[np.lexsort((ids[close], km[close], failed[close]))][:NEAR_MISSES_READ]]
    read = rows_of(session, _columns_of_lots().where(LotRow.id.in_(chosen.tolist())), now=now)
    lots = _columns(session, read, growers, certified=bool(request.certifications))
    return NearLots(lots=lots, growers=asked if asked < len(order) else None)


def in_full(
    session: Session, lots: LotColumns, places: Sequence[int], *, now: datetime
) -> dict[str, Candidate]:
    """The lots of a few places with all that is said of them, by code."""
    km = {lots.code[place]: float(lots.distance_km[place]) for place in places}
    rows = session.execute(_everything().where(LotRow.code.in_(sorted(km))), {"now": now}).all()
    packages = _packages(session, [row.id for row in rows])
    return {
        row.code: Candidate(
            grower_code=row.grower_code,
            free_kg=row.free_kg,
            distance_km=km[row.code],
            packages=packages.get(row.id, ()),
            figures=SearchFigures(**{name: getattr(row, f"search_{name}") for name in FIGURES}),
            **{name: getattr(row, name) for name in ANSWER_SCHEMA},
        )
        for row in rows
    }


@cache
def _everything() -> sa.Select[Any]:
    return sa.select(
        LotRow.id,
        PartyRow.code.label("grower_code"),
        _free_kg().label("free_kg"),
        *(getattr(LotRow, name) for name in ANSWER_SCHEMA),
        *(getattr(LotRow, f"search_{name}") for name in FIGURES),
    ).join(PartyRow, PartyRow.id == LotRow.grower_id)


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


def _from_the_nearest(
    session: Session,
    query: sa.Select[Any],
    growers: Growers,
    order: Places,
    *,
    now: datetime,
    enough: int,
    free_at: int | None = None,
) -> tuple[list[Any], int]:
    """Rows of the nearest growers' lots, grower by grower, until there are enough; and how many growers were asked.

    Rows that say how much is free, at `free_at`, count only if something is.
    """
    rows: list[Any] = []
    asked, more = 0, GROWERS_FIRST
    while asked < len(order) and len(rows) < enough:
        named = growers.ids[order[asked : asked + more]].tolist()
        found = rows_of(session, query.where(LotRow.grower_id.in_(named)), now=now)
        rows += found if free_at is None else [row for row in found if row[free_at] > 0]
        asked += len(named)
        missing = (enough - len(rows)) * asked / len(rows) if rows else math.inf
        more = int(min(NAMED_MAX, 8 * asked, max(GROWERS_FIRST, 1.2 * missing)))
    return rows, asked


# What is free stands first of a lot's own columns, after its number and its grower's.
FREE_AT = 2
OWN = ("free_kg", *OWN_TEXTS, *OWN_NUMBERS[1:])
ANSWER_SCHEMA = (*OWN_TEXTS, "readiness", "price_per_kg", "order_kg_min")
FIGURES = field_names(SearchFigures)
KEPT = (*FIGURE_TEXTS, *FIGURE_NUMBERS)


def _not_looked_at(request: Request) -> frozenset[str]:
    weights = weights_of(request)
    looked_at = {
        "cultivar_key": request.cultivars,
        "form": request.forms,
        "packing": request.packings,
        "moisture_percent": request.moisture_percent_max is not None,
        "oil_ml_per_100g": "oil" in weights or request.oil_ml_per_100g_min is not None,
        **dict.fromkeys(EVIDENCE, "evidence" in weights),
        **dict.fromkeys(ORIGIN, request.origins),
        **dict.fromkeys(KEPT_ELSEWHERE, request.kept_from is not None),
    }
    return frozenset(name for name, is_so in looked_at.items() if not is_so)


@cache
def _free_kg() -> sa.ColumnElement[Decimal]:
    return free_kg_column(sa.bindparam("now", type_=ReservationRow.held_until.type))


@cache
def _columns_of_lots(left_out: frozenset[str] = frozenset()) -> sa.Select[Any]:
    """The number of each lot and of its grower, then its own columns, then what the search keeps."""
    return sa.select(
        LotRow.id,
        LotRow.grower_id,
        unscaled(_free_kg()),
        *(getattr(LotRow, name) for name in OWN_TEXTS if name not in left_out),
        *(unscaled(getattr(LotRow, name)) for name in OWN_NUMBERS[1:]),
        *(getattr(LotRow, f"search_{name}") for name in KEPT if name not in left_out),
    )


def _columns(
    session: Session,
    rows: list[Any],
    growers: Growers,
    left_out: frozenset[str] = frozenset(),
    *,
    certified: bool = False,
) -> LotColumns:
    """Rows as columns, the nearest lots first."""
    dialect = session.get_bind().dialect
    names = [name for name in (*OWN, *KEPT) if name not in left_out]
    numbers, grower_ids, *columns = turned(rows, 2 + len(names))
    ids, at = np.array(numbers, dtype=np.int64), growers.places_of(np.array(grower_ids, dtype=np.int64))
    order = np.lexsort((ids, growers.km[at]))[:CANDIDATES_MAX]
    picked, at = order.tolist(), at[order]
    # Of one row the tool for many would give the bare value.
    in_order: Callable[[Any], Any] = itemgetter(*picked) if len(picked) > 1 else list
    blank: dict[str, Any] = {
        name: np.full(len(picked), np.nan) if name in FIGURE_NUMBERS else [""] * len(picked)
        for name in left_out
    }
    read: dict[str, Any] = {}
    for name, values in zip(names, columns, strict=True):
        if name in OWN_NUMBERS:
            read[name] = floats_of(values, DECIMALS[name], dialect)[order]
        elif name in FIGURE_NUMBERS:
            read[name] = column(values)[order]
        else:
            read[name] = in_order(values)
    place_of = {
        numbers[place]: nth
        for nth, (place, sold_in) in enumerate(zip(picked, read["sold_in"], strict=True))
        if sold_in != "any_mass"
    }
    packages = _packages(session, list(place_of))
    own = [numbers[place] for place in picked]
    held = certifications_of(session, own) if certified else {}
    return LotColumns(
        **blank,
        **read,
        grower_code=[growers.codes[place] for place in at.tolist()],
        distance_km=growers.km[at],
        packages={place_of[lot_id]: found for lot_id, found in packages.items()},
        certifications={nth: held[lot_id] for nth, lot_id in enumerate(own) if lot_id in held},
    )


ORIGIN = ("origin_country", "origin_subdivision")
KEPT_ELSEWHERE = ("base_rate_per_day", "learnt_rate_per_day", "learnt_packings")
DECIMALS = {"free_kg": 3, "price_per_kg": 4, "order_kg_min": 3}
EVIDENCE = ("alpha_method", "alpha_drawn_by", "alpha_reports", "alpha_packages_cored", "alpha_spread")


def _packages(session: Session, ids: Sequence[int]) -> dict[int, tuple[Package, ...]]:
    found: dict[int, tuple[Package, ...]] = {}
    for start in range(0, len(ids), NAMED_MAX):
        query = (
            sa.select(PackageRow.lot_id, PackageRow.kind, PackageRow.count, PackageRow.net_kg)
            .where(PackageRow.lot_id.in_(ids[start : start + NAMED_MAX]))
            .order_by(PackageRow.id)
        )
        for lot_id, kind, count, net_kg in session.execute(query):
            found[lot_id] = (*found.get(lot_id, ()), Package(kind=kind, count=count, net_kg=net_kg))
    return found
