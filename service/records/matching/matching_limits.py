"""A request's limits in the words of the database, as far as it can judge them."""

import math
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa

from service.market.matching.brewery_storage import BreweryPlan, cost_per_base_rate, kept_plan, taken_on
from service.market.matching.requests import Request
from service.market.matching.search import FINDS
from service.records.goods.certified import certified_as
from service.records.goods.lots import free_kg_column
from service.records.tables import LotRow
from service.science.storage_index import log_resin_left_limit

# Room for the last digit of a floating-point number; the decision itself is made on exact columns.
SLACK = 2e-9


def limits_in_sql(
    request: Request, *, cultivar_keys: tuple[str, ...], today: date, now: datetime
) -> list[sa.ColumnElement[bool]]:
    """The limits that a database can judge; a lot without a figure never passes a limit on it.

    Distances are judged by the grower, beside the database.
    """
    found: list[sa.ColumnElement[bool]] = []
    if request.role_strict:
        found.append(LotRow.role.in_(FINDS[request.role]))
    if request.cultivars and not request.accept_others:
        found.append(LotRow.cultivar_key.in_(cultivar_keys))
    if request.forms:
        found.append(LotRow.form.in_(request.forms))
    if request.packings:
        found.append(LotRow.packing.in_(request.packings))
    if request.moisture_percent_max is not None:
        found.append(LotRow.search_moisture_percent <= request.moisture_percent_max)
    if request.oil_ml_per_100g_min is not None:
        found.append(LotRow.search_oil_ml_per_100g >= request.oil_ml_per_100g_min)
    return [*found, *_provenance(request, today), *_on_the_days(request, today), *_goods(request, now)]


def _provenance(request: Request, today: date) -> list[sa.ColumnElement[bool]]:
    on = taken_on(request, last_on=_due(request, today)[1], today=today)
    found: list[sa.ColumnElement[bool]] = []
    if request.certifications:
        # All of them are one limit.
        found.append(sa.and_(*(certified_as(wanted, on) for wanted in request.certifications)))
    if request.origins:
        found.append(
            sa.or_(LotRow.origin_country.in_(request.origins), LotRow.origin_subdivision.in_(request.origins))
        )
    return found


def _on_the_days(request: Request, today: date) -> list[sa.ColumnElement[bool]]:
    first, last = _due(request, today)
    plan = kept_plan(request, today=today)

    def gone(on: date) -> sa.ColumnElement[Any]:
        return _gone(on) if plan is None or on <= plan.from_on else _gone_kept(on, plan)

    found: list[sa.ColumnElement[bool]] = []
    if request.alpha_percent_min is not None:
        found.append(LotRow.search_log_alpha - gone(last) >= _log(request.alpha_percent_min) - SLACK)
    if request.alpha_percent_max is not None:
        found.append(LotRow.search_log_alpha - gone(first) <= _log(request.alpha_percent_max) + SLACK)
    if request.hop_storage_index_max is not None:
        left = log_resin_left_limit(hop_storage_index_max=request.hop_storage_index_max) - SLACK
        found.append(LotRow.search_log_resin - gone(last) >= left)
    return found


def _log(value: float) -> float:
    # Under every logarithm that is kept, and still a number that every database can hold.
    return math.log(value) if value > 0 else -1e9


def _gone(on: date) -> sa.ColumnElement[Any]:
    return LotRow.search_rate_per_day * (on.toordinal() - LotRow.search_day)


def _gone_kept(on: date, plan: BreweryPlan) -> sa.ColumnElement[Any]:
    """What is gone on a day in a brewery's store; the same sums as over the columns."""
    day, begins = on.toordinal(), plan.from_on.toordinal()
    handed = sa.case((LotRow.search_day > begins, LotRow.search_day), else_=begins)
    is_learnt = ("," + LotRow.search_learnt_packings + ",").like(f"%,{plan.packing},%")
    base = sa.case((is_learnt, LotRow.search_learnt_rate_per_day), else_=LotRow.search_base_rate_per_day)
    before = LotRow.search_rate_per_day * (handed - LotRow.search_day)
    return before + base * cost_per_base_rate(plan) * (day - handed)


def _due(request: Request, today: date) -> tuple[date, date]:
    due = [d.needed_on for d in request.deliveries if d.needed_on >= today] or [today]
    return min(due), max(due)


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
