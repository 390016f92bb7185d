"""The region at a glance: what it grows, what is to be picked, what it wants, what it lacks."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest
from service.market.access import Visitor, require_specialist
from service.market.cultivars import keys_for_search
from service.market.outlook import Harvest, SupplyWish, look_at_harvest, sees_whole_region
from service.market.outlook_demand import Demand, look_at_demand
from service.market.outlook_supply import Supply, put_supply_together
from service.market.search import FINDS
from service.records import cultivars, outlook
from service.records.session import Session
from service.usecases.allocations import REQUESTS_MAX, open_askers


def show_supply(session: Session, *, visitor: Visitor, asked: Mapping[str, Any], now: datetime) -> Supply:
    """What the region grows; for others than the specialist, what is listed of it.

    Raises:
        InvalidRequest: the cultivar's name fits nothing or several.

    """
    wish = _wish(session, visitor, asked, now)
    growers, growers_in_all = outlook.count_growers(session, wish, now=now)
    return put_supply_together(
        outlook.add_up_stock(session, wish, now=now),
        wish=wish,
        growers=growers,
        growers_in_all=growers_in_all,
        alphas=outlook.read_alphas(session, wish, now=now),
        prices=outlook.range_prices(session, wish, now=now),
    )


def show_harvest(session: Session, *, visitor: Visitor, asked: Mapping[str, Any], now: datetime) -> Harvest:
    """What growers announced before picking; for others than the specialist, what is listed of it.

    Raises:
        InvalidRequest: the cultivar's name fits nothing or several.

    """
    wish = _wish(session, visitor, asked, now)
    return look_at_harvest(outlook.search_harvest(session, wish, now=now), wish=wish)


def show_demand(session: Session, *, visitor: Visitor, now: datetime) -> Demand:
    """What open requests want, and what is promised for them already.

    Raises:
        TokenNeeded, NotAllowed: the visitor is not the specialist.

    """
    require_specialist(visitor)
    askers, is_cut = open_askers(session, now=now, limit=REQUESTS_MAX)
    return look_at_demand(askers, today=now.date(), is_cut=is_cut)


def _wish(session: Session, visitor: Visitor, asked: Mapping[str, Any], now: datetime) -> SupplyWish:
    return SupplyWish(
        today=now.date(),
        listed_only=not sees_whole_region(visitor),
        sees_all_prices=visitor.role != "anyone",
        cultivar_keys=_keys(session, asked.get("cultivar")),
        roles=FINDS[asked["role"]] if asked.get("role") else (),
        crop_year=asked.get("crop_year"),
        form=asked.get("form"),
    )


def _keys(session: Session, name: str | None) -> tuple[str, ...]:
    if name is None:
        return ()
    try:
        return keys_for_search(name, cultivars.search(session))
    except InvalidRequest as problem:
        fault = {"parameter": "cultivar", "detail": problem.detail}
        raise InvalidRequest(problem.detail, errors=[fault]) from None
