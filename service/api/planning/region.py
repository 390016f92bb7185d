"""The region at a glance, over JSON: what it grows, what is to be picked, what it wants and lacks."""

from typing import Any

from flask import Response

from service.api.contract import (
    Blueprint,
    json_response,
)
from service.api.planning.region_schemas import (
    DemandAnswer,
    HarvestAnswer,
    HarvestQuery,
    SupplyAnswer,
    SupplyQuery,
)
from service.api.planning.shortfall_schemas import ShortfallAnswer, ShortfallQuery
from service.errors import InvalidRequest, NotAllowed, TokenNeeded
from service.request_context import caller, now, read
from service.usecases.planning.outlook import show_demand, show_harvest, show_shortfall, show_supply

bp = Blueprint(
    "region", __name__, url_prefix="/v1/region", description="What the region grows, wants and lacks"
)
SUPPLY, HARVEST, DEMAND = SupplyAnswer(), HarvestAnswer(), DemandAnswer()
SHORTFALL = ShortfallAnswer()


@bp.route("/supply")
@bp.arguments(SupplyQuery, location="query")
@bp.response(200, SupplyAnswer)
@bp.refuses(InvalidRequest)
def get_supply(asked: dict[str, Any]) -> Response:
    """What the region grows, by cultivar, crop year and form; for others than the specialist what is listed of it"""
    found = read(lambda session: show_supply(session, caller=caller(), asked=asked, now=now()))
    return json_response(SUPPLY.dump(found))


@bp.route("/harvest")
@bp.arguments(HarvestQuery, location="query")
@bp.response(200, HarvestAnswer)
@bp.refuses(InvalidRequest)
def get_harvest(asked: dict[str, Any]) -> Response:
    """What growers announced before picking, by picking window"""
    found = read(lambda session: show_harvest(session, caller=caller(), asked=asked, now=now()))
    return json_response(HARVEST.dump(found))


@bp.route("/demand")
@bp.response(200, DemandAnswer)
@bp.refuses(TokenNeeded, NotAllowed)
def get_demand() -> Response:
    """What open requests want, by wish, firmness and month, and what is promised for them"""
    return json_response(DEMAND.dump(read(lambda session: show_demand(session, caller=caller(), now=now()))))


@bp.route("/shortfall")
@bp.arguments(ShortfallQuery, location="query")
@bp.response(200, ShortfallAnswer)
@bp.refuses(TokenNeeded, NotAllowed, InvalidRequest)
def get_shortfall(asked: dict[str, Any]) -> Response:
    """What is wanted beside what is free: what is short, and which limits keep free lots out"""
    found = read(lambda session: show_shortfall(session, caller=caller(), now=now(), **asked))
    return json_response(SHORTFALL.dump(found))
