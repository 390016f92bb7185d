"""What the region grows, added up by the database: one pass over the lots with what is promised and booked of each."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

import numpy as np
import sqlalchemy as sa

from service.facts import field_names
from service.market.planning.outlook import (
    GoodsKind,
    HarvestRow,
    Stock,
    StockOfKind,
    SupplyWish,
    shown_cultivar,
)
from service.market.planning.outlook_supply import AlphaColumns, PriceRange
from service.market.trade.reservations import LIVE
from service.records.session import Session
from service.records.tables import BookingRow, LabReportRow, LotRow, ReservationRow
from service.records.types import floats_of, kilograms, unscaled

KIND = field_names(GoodsKind)
SUMMED = tuple(name for name in field_names(Stock) if name != "lots")
NONE = sa.literal(Decimal(0), kilograms())


def add_up_stock(session: Session, wish: SupplyWish, *, now: datetime) -> list[StockOfKind]:
    """The weighed and the announced lots of each kind, added up."""
    lot = _goods(wish, now).subquery()
    query = sa.select(
        *(lot.c[name] for name in KIND),
        lot.c.is_weighed,
        sa.func.min(lot.c.cultivar).label("cultivar"),
        *_sums(lot),
    ).group_by(*(lot.c[name] for name in KIND), lot.c.is_weighed)
    return [
        StockOfKind(
            kind=_kind(row), cultivar=row.cultivar, is_weighed=bool(row.is_weighed), stock=_stock(row)
        )
        for row in session.execute(query)
    ]


def count_growers(session: Session, wish: SupplyWish, *, now: datetime) -> tuple[dict[GoodsKind, int], int]:
    """How many growers stand behind each kind, and behind all."""
    lot = _goods(wish, now).subquery()
    many = sa.func.count(sa.distinct(lot.c.grower_id))
    query = sa.select(*(lot.c[name] for name in KIND), many.label("growers")).group_by(
        *(lot.c[name] for name in KIND)
    )
    by_kind = {_kind(row): row.growers for row in session.execute(query)}
    return by_kind, session.scalar(sa.select(many)) or 0


def range_prices(
    session: Session, wish: SupplyWish, *, now: datetime
) -> dict[GoodsKind, Sequence[PriceRange]]:
    """The least and the largest price of what is free of each kind, in each currency."""
    lot = _goods(wish, now).subquery()
    query = (
        sa.select(
            *(lot.c[name] for name in KIND),
            lot.c.currency,
            sa.func.count().label("lots"),
            sa.func.sum(lot.c.free_kg).label("free_kg"),
            sa.func.min(lot.c.price_per_kg).label("least_per_kg"),
            sa.func.max(lot.c.price_per_kg).label("largest_per_kg"),
        )
        .where(lot.c.free_kg > NONE, lot.c.price_per_kg.is_not(None))
        .group_by(*(lot.c[name] for name in KIND), lot.c.currency)
        .order_by(lot.c.currency)
    )
    if not wish.sees_all_prices:
        query = query.where(lot.c.price_open.is_(True))
    found: dict[GoodsKind, list[PriceRange]] = {}
    for row in session.execute(query):
        price = PriceRange(**{name: getattr(row, name) for name in field_names(PriceRange)})
        found.setdefault(_kind(row), []).append(price)
    return dict(found)


def read_alphas(session: Session, wish: SupplyWish, *, now: datetime) -> AlphaColumns:
    """The alpha of every listed lot that was analysed, on the day: narrow columns, since a quantile wants each lot."""
    lot = _goods(wish, now).subquery()
    figures = ("log_alpha", "alpha_sd_log", "rate_low_per_day", "rate_per_day", "rate_high_per_day")
    query = (
        sa.select(
            *(lot.c[name] for name in KIND),
            LotRow.search_alpha_method,
            unscaled(lot.c.free_kg),
            LotRow.search_day,
            *(getattr(LotRow, f"search_{name}") for name in (*figures, "spread_low", "spread_high")),
        )
        .join(LotRow, LotRow.id == lot.c.id)
        .where(lot.c.is_weighed == 1, LotRow.state == "listed", LotRow.search_log_alpha.is_not(None))
        .order_by(LotRow.id)
    )
    rows = session.execute(query).all()
    columns = list(zip(*rows, strict=True)) if rows else [()] * (len(KIND) + 10)
    kinds = [
        GoodsKind(**dict(zip(KIND, told, strict=True))) for told in zip(*columns[: len(KIND)], strict=True)
    ]
    methods, free, day, *numbers = columns[len(KIND) :]
    log_alpha, sd, low, rate, high, spread_low, spread_high = (np.array(n, dtype=np.float64) for n in numbers)
    days = np.maximum(0, wish.today.toordinal() - np.array(day, dtype=np.float64))
    return AlphaColumns(
        kind=kinds,
        method=list(methods),
        free_kg=np.maximum(0, floats_of(free, 3, session.get_bind().dialect)),
        log_alpha=log_alpha - rate * days,
        sd_log=sd,
        below_log=spread_high + (high - rate) * days,
        above_log=spread_low + (rate - low) * days,
    )


def search_harvest(session: Session, wish: SupplyWish, *, now: datetime) -> list[HarvestRow]:
    """Announced lots by cultivar, form and picking window."""
    lot = _goods(wish, now).subquery()
    told = ("role", "form", "harvest_window_from", "harvest_window_to")
    keys = [lot.c[name] for name in ("cultivar_key", *told)]
    query = (
        sa.select(
            *keys,
            sa.func.min(lot.c.cultivar).label("cultivar"),
            sa.func.count(sa.distinct(lot.c.grower_id)).label("growers"),
            *_sums(lot),
        )
        .where(lot.c.is_weighed == 0)
        .group_by(*keys)
    )
    return [
        HarvestRow(
            cultivar=shown_cultivar(row.cultivar),
            growers=row.growers,
            stock=_stock(row),
            **{name: getattr(row, name) for name in told},
        )
        for row in session.execute(query)
    ]


def _goods(wish: SupplyWish, now: datetime) -> sa.Select[Any]:
    """Each lot that has, or announces, a mass, with where its kilograms are."""
    promised, booked, arrived = _promised(now), _booked(), _arrived()
    stock = sa.func.coalesce(LotRow.mass_kg, LotRow.expected_kg)
    held = sa.func.coalesce(promised.c.held_kg, NONE)
    rest = stock - LotRow.taken_kg - held
    reported = (
        sa.select(LabReportRow.id)
        .where(
            LabReportRow.lot_id == LotRow.id,
            LabReportRow.corrected_by.is_(None),
            LabReportRow.drawn_by != "buyer",
        )
        .exists()
    )
    year = sa.cast(sa.extract("year", LotRow.harvest_window_from), sa.Integer)
    told: list[Any] = [
        LotRow.id,
        LotRow.grower_id,
        LotRow.cultivar_key,
        LotRow.cultivar,
        LotRow.role,
        sa.func.coalesce(LotRow.crop_year, year).label("crop_year"),
        LotRow.form,
        LotRow.harvest_window_from,
        LotRow.harvest_window_to,
        LotRow.price_per_kg,
        LotRow.currency,
        LotRow.price_open,
        sa.case((LotRow.mass_kg.is_not(None), 1), else_=0).label("is_weighed"),
        stock.label("mass_kg"),
        sa.case((LotRow.state == "listed", rest), else_=NONE).label("free_kg"),
        sa.case((LotRow.state != "listed", rest), else_=NONE).label("not_offered_kg"),
        held.label("held_kg"),
        *(sa.func.coalesce(promised.c[n], NONE).label(n) for n in ("confirmed_kg", "delivered_kg")),
        *(sa.func.coalesce(booked.c[n], NONE).label(n) for n in ("moved_kg", "lost_kg")),
        sa.func.coalesce(arrived.c.from_lots_kg, NONE).label("from_lots_kg"),
        sa.case((reported, stock), else_=NONE).label("reported_kg"),
    ]
    query = (
        sa.select(*told)
        .outerjoin(promised, promised.c.lot_id == LotRow.id)
        .outerjoin(booked, booked.c.lot_id == LotRow.id)
        .outerjoin(arrived, arrived.c.lot_id == LotRow.id)
        .where(stock.is_not(None))
    )
    if wish.listed_only:
        query = query.where(LotRow.state == "listed")
    if wish.cultivar_keys:
        query = query.where(LotRow.cultivar_key.in_(wish.cultivar_keys))
    if wish.roles:
        query = query.where(LotRow.role.in_(wish.roles))
    if wish.crop_year is not None:
        query = query.where(sa.func.coalesce(LotRow.crop_year, year) == wish.crop_year)
    return query if wish.form is None else query.where(LotRow.form == wish.form)


def _promised(now: datetime) -> sa.Subquery:
    """What is held, confirmed and delivered of each lot; what came back is no longer delivered."""
    row = ReservationRow
    delivered = sa.func.coalesce(row.delivered_kg, NONE) - row.returned_kg
    held = sa.and_(row.state == "held", row.held_until > now)
    return (
        sa.select(
            row.lot_id,
            sa.func.sum(sa.case((held, row.mass_kg), else_=NONE)).label("held_kg"),
            sa.func.sum(sa.case((row.state == "confirmed", row.mass_kg), else_=NONE)).label("confirmed_kg"),
            sa.func.sum(sa.case((row.state == "delivered", delivered), else_=NONE)).label("delivered_kg"),
        )
        .where(row.state.in_(LIVE))
        .group_by(row.lot_id)
        .subquery()
    )


def _booked() -> sa.Subquery:
    """What left each lot by booking: moved into other lots, or lost and drawn as samples."""
    row = BookingRow
    moved = row.kind == "moved"
    return (
        sa.select(
            row.lot_id,
            sa.func.sum(sa.case((moved, row.mass_kg), else_=NONE)).label("moved_kg"),
            sa.func.sum(sa.case((moved, NONE), else_=row.mass_kg)).label("lost_kg"),
        )
        .where(row.taken_back_at.is_(None))
        .group_by(row.lot_id)
        .subquery()
    )


def _arrived() -> sa.Subquery:
    """What came into each lot out of others."""
    row = BookingRow
    return (
        sa.select(row.into_lot_id.label("lot_id"), sa.func.sum(row.mass_kg).label("from_lots_kg"))
        .where(row.taken_back_at.is_(None), row.kind == "moved", row.into_lot_id.is_not(None))
        .group_by(row.into_lot_id)
        .subquery()
    )


def _sums(lot: sa.Subquery) -> list[sa.Label[Any]]:
    return [sa.func.count().label("lots"), *(sa.func.sum(lot.c[name]).label(name) for name in SUMMED)]


def _kind(row: Any) -> GoodsKind:
    return GoodsKind(**{name: getattr(row, name) for name in KIND})


def _stock(row: Any) -> Stock:
    return Stock(**{name: getattr(row, name) for name in field_names(Stock)})
