"""The region at a glance: what it grows, what is to be picked, what it wants, what it lacks."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.market.matching.search import FINDS
from service.market.people.access import Caller, require_specialist
from service.market.planning.outlook import Harvest, SupplyWish, look_at_harvest, sees_whole_region
from service.market.planning.outlook_demand import Demand, look_at_demand
from service.market.planning.outlook_shortfall import Shortfall, look_at_shortfall
from service.market.planning.outlook_supply import Supply, put_supply_together
from service.records.matching.matching import CANDIDATES_MAX
from service.records.planning import outlook
from service.records.session import Session
from service.usecases.matching.search import keys_asked
from service.usecases.planning.allocations import REQUESTS_MAX, free_lots, open_askers, yards_of


def show_supply(session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime) -> Supply:
    """What the region grows; for others than the specialist, what is listed of it.

    Raises:
        InvalidRequest: the cultivar is no name.

    """
    wish = _wish(session, caller, asked, now)
    growers, growers_in_all = outlook.count_growers(session, wish, now=now)
    return put_supply_together(
        outlook.add_up_stock(session, wish, now=now),
        wish=wish,
        growers=growers,
        growers_in_all=growers_in_all,
        alphas=outlook.read_alphas(session, wish, now=now),
        prices=outlook.range_prices(session, wish, now=now),
    )


def show_harvest(session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime) -> Harvest:
    """What growers announced before picking; for others than the specialist, what is listed of it.

    Raises:
        InvalidRequest: the cultivar is no name.

    """
    wish = _wish(session, caller, asked, now)
    return look_at_harvest(outlook.search_harvest(session, wish, now=now), wish=wish)


def show_demand(session: Session, *, caller: Caller, now: datetime) -> Demand:
    """What open requests want, and what is promised for them already.

    Raises:
        TokenNeeded, NotAllowed: the caller is not the specialist.

    """
    require_specialist(caller)
    askers, is_cut = open_askers(session, now=now, limit=REQUESTS_MAX)
    return look_at_demand(askers, today=now.date(), is_cut=is_cut)


def show_shortfall(session: Session, *, caller: Caller, requests_max: int, now: datetime) -> Shortfall:
    """What open requests want beside what is free, what is short of it, and why.

    Raises:
        TokenNeeded, NotAllowed: the caller is not the specialist.

    """
    require_specialist(caller)
    askers, is_cut = open_askers(session, now=now, limit=requests_max)
    free = free_lots(session, askers, now=now)
    cautions = (
        [f"only the {requests_max} newest open requests are judged; requests_max= takes more"]
        if is_cut
        else []
    )
    if len(free) >= CANDIDATES_MAX:
        cautions.append(f"only the {CANDIDATES_MAX} lots nearest to the breweries' middle are looked at")
    return look_at_shortfall(askers, free, yards_of(session), today=now.date(), cautions=cautions)


def _wish(session: Session, caller: Caller, asked: Mapping[str, Any], now: datetime) -> SupplyWish:
    return SupplyWish(
        today=now.date(),
        listed_only=not sees_whole_region(caller),
        sees_all_prices=caller.role != "anyone",
        cultivar_keys=keys_asked(session, asked.get("cultivar")),
        roles=FINDS[asked["role"]] if asked.get("role") else (),
        crop_year=asked.get("crop_year"),
        form=asked.get("form"),
    )
