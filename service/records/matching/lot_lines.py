"""The search over listed lots: one statement of columns, filtered, sorted and paged by the database."""

import math
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import sqlalchemy as sa

from service.errors import InvalidRequest
from service.facts import field_names
from service.market.goods.provenance import ShownCertification, shown_on
from service.market.matching.search import LotLine, LotWish, SearchFigures
from service.market.matching.search_figures import alpha_on, index_on
from service.market.people.parties import chord_squared, distance_km
from service.records.goods.certified import certifications_of, certified_as
from service.records.goods.lots import free_kg_column
from service.records.session import Session
from service.records.tables import LotRow, PartyRow
from service.science.storage_index import log_resin_left_limit

FIGURE_COLUMNS = {name: getattr(LotRow, f"search_{name}") for name in field_names(SearchFigures)}
Position = tuple[float | str | None, int]


def search(
    session: Session, wish: LotWish, *, now: datetime, after: Position | None, limit: int
) -> list[tuple[LotLine, Position]]:
    """Lines of listed lots with the position of each, for the next page to begin after."""
    key = _sort_key(wish)
    narrowed = (
        sa.select(LotRow.id, key.label("sort_key"))
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .where(*conditions(wish, now))
        .order_by(key.is_(None), key.desc() if wish.sort.startswith("-") else key, LotRow.id)
        .limit(limit)
    )
    if after is not None:
        narrowed = narrowed.where(_after(key, _typed(after, wish), descending=wish.sort.startswith("-")))
    page = narrowed.subquery()
    rows = session.execute(
        sa.select(
            LotRow.id,
            LotRow.code,
            PartyRow.code.label("grower_code"),
            LotRow.cultivar,
            LotRow.crop_year,
            LotRow.form,
            LotRow.packing,
            LotRow.readiness,
            free_kg_column(now).label("free_kg"),
            LotRow.price_per_kg,
            LotRow.currency,
            LotRow.price_open,
            LotRow.origin_country,
            LotRow.origin_subdivision,
            PartyRow.unit_x,
            PartyRow.unit_y,
            PartyRow.unit_z,
            page.c.sort_key,
            *FIGURE_COLUMNS.values(),
        )
        .join(page, page.c.id == LotRow.id)
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .order_by(
            page.c.sort_key.is_(None),
            page.c.sort_key.desc() if wish.sort.startswith("-") else page.c.sort_key,
            LotRow.id,
        )
    ).all()
    certified = _certified(session, [row.id for row in rows], wish.on)
    return [(_line(row, wish, certified.get(row.id, ())), (_position(row.sort_key), row.id)) for row in rows]


def _certified(session: Session, lot_ids: list[int], on: date) -> dict[int, tuple[ShownCertification, ...]]:
    """The certifications of a page of lots, as they stand on a day."""
    return {lot_id: shown_on(held, on) for lot_id, held in certifications_of(session, lot_ids).items()}


def passing(session: Session, wish: LotWish, codes: list[str], *, now: datetime) -> list[str]:
    """Of some lots, those that pass a search, in the order of their codes."""
    query = (
        sa.select(LotRow.code)
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .where(*conditions(wish, now), LotRow.code.in_(codes))
        .order_by(LotRow.code)
    )
    return list(session.scalars(query))


def search_methods(session: Session, wish: LotWish, *, now: datetime) -> list[str]:
    """The methods by which the alpha of the found lots was measured."""
    query = (
        sa.select(LotRow.search_alpha_method)
        .join(PartyRow, PartyRow.id == LotRow.grower_id)
        .where(*conditions(wish, now), LotRow.search_alpha_method.is_not(None))
        .distinct()
        .order_by(LotRow.search_alpha_method)
    )
    return [str(method) for method in session.scalars(query)]


def conditions(wish: LotWish, now: datetime) -> list[sa.ColumnElement[bool]]:
    """The filters of a wish as SQL; a lot without a figure never passes a limit on it."""
    found: list[sa.ColumnElement[bool]] = [LotRow.state == "listed"]
    if wish.roles:
        found.append(LotRow.role.in_(wish.roles))
    if wish.cultivar_keys:
        found.append(LotRow.cultivar_key.in_(wish.cultivar_keys))
    if wish.known is not None:
        found.append(LotRow.cultivar_code.is_not(None) if wish.known else LotRow.cultivar_code.is_(None))
    for name in ("crop_year", "form", "readiness"):
        if getattr(wish, name) is not None:
            found.append(getattr(LotRow, name) == getattr(wish, name))
    if wish.method is not None:
        found.append(LotRow.search_alpha_method == wish.method)
    if wish.oil_ml_per_100g_min is not None:
        found.append(LotRow.search_oil_ml_per_100g >= wish.oil_ml_per_100g_min)
    if wish.free_kg_min is not None:
        found.append(free_kg_column(now) >= wish.free_kg_min)
    for name in ("origin_country", "origin_subdivision"):
        if getattr(wish, name) is not None:
            found.append(getattr(LotRow, name) == getattr(wish, name))
    if wish.certification is not None:
        found.append(certified_as(wish.certification, wish.on))
    return [*found, *_limits_on_the_day(wish), *_price(wish), *_near(wish)]


def log_alpha_column(wish: LotWish) -> sa.ColumnElement[float | None]:
    """The logarithm of alpha on the day asked for."""
    return LotRow.search_log_alpha - LotRow.search_rate_per_day * (wish.on.toordinal() - LotRow.search_day)


def _limits_on_the_day(wish: LotWish) -> list[sa.ColumnElement[bool]]:
    found: list[sa.ColumnElement[bool]] = []
    if wish.alpha_percent_min is not None:
        found.append(log_alpha_column(wish) >= _log(wish.alpha_percent_min))
    if wish.alpha_percent_max is not None:
        found.append(log_alpha_column(wish) <= _log(wish.alpha_percent_max))
    if wish.hop_storage_index_max is not None:
        left = LotRow.search_log_resin - LotRow.search_rate_per_day * (
            wish.on.toordinal() - LotRow.search_day
        )
        found.append(left >= log_resin_left_limit(hop_storage_index_max=wish.hop_storage_index_max))
    return found


def _log(value: float) -> float:
    # A limit of 0 is passed by every alpha that was measured.
    return math.log(value) if value > 0 else -1e9


def price_column(wish: LotWish) -> sa.ColumnElement[Decimal]:
    """The price as this caller may see it: hidden prices count as by agreement."""
    if wish.sees_all_prices:
        return sa.type_coerce(LotRow.price_per_kg, LotRow.price_per_kg.type)
    return sa.case((LotRow.price_open.is_(True), LotRow.price_per_kg), else_=None)


def _price(wish: LotWish) -> list[sa.ColumnElement[bool]]:
    if wish.currency is None:
        return []
    seen = price_column(wish)
    fits = LotRow.currency == wish.currency
    if wish.price_per_kg_max is not None:
        fits = sa.and_(fits, LotRow.price_per_kg <= wish.price_per_kg_max)
    return [sa.or_(seen.is_(None), fits)]


def _near(wish: LotWish) -> list[sa.ColumnElement[bool]]:
    if wish.near is None or wish.within_km is None:
        return []
    return [_chord_squared(wish.near) <= chord_squared(within_km=wish.within_km)]


def _chord_squared(near: tuple[float, float, float]) -> sa.ColumnElement[float]:
    parts = [
        (column - value) * (column - value)
        for column, value in zip((PartyRow.unit_x, PartyRow.unit_y, PartyRow.unit_z), near, strict=True)
    ]
    return parts[0] + parts[1] + parts[2]


def _sort_key(wish: LotWish) -> sa.ColumnElement[Any]:
    by = wish.sort.lstrip("-")
    if by == "distance" and wish.near is not None:
        return _chord_squared(wish.near)
    if by == "alpha":
        return log_alpha_column(wish)
    if by == "price":
        return sa.case((LotRow.currency == wish.currency, price_column(wish)), else_=None)
    return sa.type_coerce(LotRow.harvested_on, LotRow.harvested_on.type)


def _typed(after: Position, wish: LotWish) -> tuple[Any, int]:
    value, lot_id = after
    try:
        if not isinstance(lot_id, int):
            raise ValueError
        return (None if value is None else _typed_key(value, wish.sort.lstrip("-"))), lot_id
    except (ValueError, ArithmeticError):
        fault = {"parameter": "cursor", "detail": "Not a cursor of this list under this query."}
        raise InvalidRequest("that is not a cursor of this list", errors=[fault]) from None


def _typed_key(value: float | str, by: str) -> Any:
    if by == "harvested":
        return date.fromisoformat(str(value))
    if by != "price":
        return float(value)
    price = Decimal(str(value))
    # What no column of money holds was no price of ours.
    if not 0 <= price < 10**8 or price != round(price, 4):
        raise ValueError
    return price


def _after(key: sa.ColumnElement[Any], after: tuple[Any, int], *, descending: bool) -> sa.ColumnElement[bool]:
    value, lot_id = after
    if value is None:
        return sa.and_(key.is_(None), LotRow.id > lot_id)
    later = key < value if descending else key > value
    return sa.or_(later, sa.and_(key == value, LotRow.id > lot_id), key.is_(None))


def _position(value: Any) -> float | str | None:
    if value is None or isinstance(value, float):
        return value
    return str(value)


def _line(row: Any, wish: LotWish, certified: tuple[ShownCertification, ...]) -> LotLine:
    figures = SearchFigures(**{name: getattr(row, column.name) for name, column in FIGURE_COLUMNS.items()})
    open_price = wish.sees_all_prices or row.price_open
    place = (row.unit_x, row.unit_y, row.unit_z)
    return LotLine(
        code=row.code,
        grower_code=row.grower_code,
        cultivar=row.cultivar,
        crop_year=row.crop_year,
        form=row.form,
        packing=row.packing,
        readiness=row.readiness,
        alpha_percent=alpha_on(figures, wish.on),
        hop_storage_index=index_on(figures, wish.on),
        alpha_method=figures.alpha_method,
        oil_ml_per_100g=figures.oil_ml_per_100g,
        free_kg=row.free_kg,
        price_per_kg=row.price_per_kg if open_price else None,
        currency=row.currency if open_price else None,
        origin_country=row.origin_country,
        origin_subdivision=row.origin_subdivision,
        certifications=certified,
        distance_km=round(distance_km(place, wish.near)) if wish.near else None,
    )
