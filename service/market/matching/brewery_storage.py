"""How a brewery will keep the hops from the day it takes them until it needs them.

A listed lot keeps its rate at 20 °C unprotected, and the rate that its own reports taught with the packings
they taught it in. So a request's `kept_from`, `kept_at_c` and `kept_packing` stay linear in days. A match
that is shown takes its interval from the lot in full, as the storage page does; a test compares both.
Certifications are judged on the day the goods change hands: `kept_from`, or the last day needed.
"""

from collections.abc import Sequence
from datetime import date

import numpy as np

from service.facts import replace
from service.market.goods.lots import Lot
from service.market.matching.candidates import LotColumns
from service.market.matching.requests import Request
from service.market.matching.search import SearchFigures
from service.market.matching.search_figures import search_figures
from service.market.storage.storage_model import StoragePlan, planned_spells
from service.reference.packings import packing_used
from service.reference.six_month_storage import six_month_loss
from service.science.storage import temperature_factor


class BreweryPlan(StoragePlan, frozen=True, kw_only=True):
    """What a brewery will do with hops; a request always names the packing."""

    packing: str


def kept_plan(request: Request, *, today: date) -> BreweryPlan | None:
    """What the brewery will do, from a day on that is never in the past; None if it said nothing."""
    if request.kept_from is None or request.kept_at_c is None or request.kept_packing is None:
        return None
    return BreweryPlan(
        from_on=max(request.kept_from, today), kept_at_c=request.kept_at_c, packing=request.kept_packing
    )


def taken_on(request: Request, *, last_on: date, today: date) -> date:
    """The day on which the goods change hands: when the brewery takes them, else when they are needed last."""
    plan = kept_plan(request, today=today)
    return last_on if plan is None else min(plan.from_on, last_on)


def cost_per_base_rate(plan: BreweryPlan) -> float:
    """What a day in the brewery's store costs, over a day unprotected at 20 °C."""
    packing = packing_used(plan.packing, residual_oxygen_percent=None).packing
    return packing.factor * temperature_factor(temperature_c=plan.kept_at_c)


def kept_as_wished(request: Request, lots: LotColumns, *, today: date) -> LotColumns:
    """The columns of lots with the rate at which each loses acids in the brewery's store; as they are without a wish."""
    plan = kept_plan(request, today=today)
    if plan is None:
        return lots
    is_learnt = np.fromiter(
        (plan.packing in (packings or "").split(",") for packings in lots.learnt_packings),
        dtype=np.bool_,
        count=len(lots),
    )
    base = np.where(is_learnt, lots.learnt_rate_per_day, lots.base_rate_per_day)
    return replace(
        lots, kept_from_day=float(plan.from_on.toordinal()), kept_rate_per_day=base * cost_per_base_rate(plan)
    )


def figures_on(lot: Lot, request: Request | None, on: date, *, today: date) -> SearchFigures:
    """What is known of a lot for a day, as it will be kept for a request until then."""
    plan = None if request is None else kept_plan(request, today=today)
    loss = six_month_loss(lot.cultivar)
    if plan is None or on <= plan.from_on or not lot.spells:
        return search_figures(lot, loss=loss)
    return search_figures(replace(lot, spells=planned_spells(lot, plan)), loss=loss)


def keeping_words(request: Request, *, today: date) -> Sequence[str]:
    """How the hops are taken to be kept until they are needed."""
    plan = kept_plan(request, today=today)
    if plan is None:
        return (
            "alpha and Hop Storage Index are estimated for the last day needed, as the lot is stored now",
        )
    return (
        "alpha and Hop Storage Index are estimated for the last day needed: as the lot is stored now until"
        f" {plan.from_on}, from then on at {plan.kept_at_c:g} °C, {plan.packing.replace('_', ' ')}",
    )
