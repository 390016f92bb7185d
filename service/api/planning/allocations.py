"""Region-wide plans over JSON: made, looked at, accepted."""

from typing import Any

from flask import Response

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    PageQuery,
    creation_response,
    json_response,
    page_of,
    page_response,
    read_position,
    respond,
)
from service.api.planning.allocation_schemas import (
    AcceptanceAnswer,
    AcceptanceBody,
    AllocationAnswer,
    AllocationBody,
    AllocationLine,
)
from service.errors import IllegalStep, InvalidRequest, NotAllowed, OutOfRange, TokenNeeded
from service.market.planning.allocations import Allocation, AllocationOrder
from service.market.planning.rules import RULE_WORDS
from service.request_context import caller, now, read, repeated
from service.usecases.planning.allocations import (
    accept_plan,
    keep_allocation,
    list_allocations,
    make_plan,
    read_region,
    show_allocation,
)

bp = Blueprint(
    "allocations", __name__, url_prefix="/v1/allocations", description="Which lots for which requests"
)
ANSWER_SCHEMA, LINE, ACCEPTED = AllocationAnswer(), AllocationLine(), AcceptanceAnswer()


def _body(allocation: Allocation) -> dict[str, Any]:
    body: dict[str, Any] = ANSWER_SCHEMA.dump(allocation)
    body["plan"]["rule_words"] = RULE_WORDS[body["plan"]["rule"]]
    return body


@bp.route("", methods=["POST"])
@bp.arguments(AllocationBody, required=False)
@bp.response(201, AllocationAnswer)
@bp.refuses(TokenNeeded, NotAllowed, InvalidRequest)
@bp.repeatable
def post_allocation(order: AllocationOrder) -> Response:
    """Plan all open requests and free lots: the answer is the finished plan, seconds later in a large region"""
    before = repeated()
    if before is not None:
        return respond(before)
    region = read(lambda session: read_region(session, order, caller=caller(), now=now()))
    # No transaction is open while the plan is made, so that it keeps nobody from writing.
    plan = make_plan(region, order)
    return creation_response(
        lambda session: keep_allocation(session, plan, order=order, caller=caller(), now=now()),
        _body,
        headers=lambda allocation: {"Location": f"/v1/allocations/{allocation.code}"},
    )


@bp.route("")
@bp.arguments(PageQuery, location="query")
@bp.response(200, page_of(AllocationLine, "AllocationPage"))
@bp.refuses(TokenNeeded, NotAllowed, InvalidRequest)
def get_allocations(asked: dict[str, Any]) -> Response:
    """Allocations without their plans, newest first"""
    position = read_position(asked, int)
    found = read(
        lambda session: list_allocations(
            session,
            caller=caller(),
            after=position[0] if position else None,
            limit=asked["limit"] + 1,
        )
    )
    return page_response(
        found,
        query=asked,
        key=lambda item: [item[1]],
        dump=lambda items: LINE.dump([allocation for allocation, _ in items], many=True),
    )


@bp.route("/<code>")
@bp.response(200, AllocationAnswer)
@bp.refuses(*READING, NotAllowed)
def get_allocation(code: str) -> Response:
    """An allocation with its plan"""
    return json_response(_body(read(lambda session: show_allocation(session, code, caller=caller()))))


@bp.route("/<code>/acceptance", methods=["POST"])
@bp.arguments(AcceptanceBody)
@bp.response(201, AcceptanceAnswer)
@bp.refuses(*CHANGING, IllegalStep, OutOfRange)
@bp.repeatable
def post_acceptance(asked: dict[str, Any], code: str) -> Response:
    """Make an offer of each parcel; those that can no longer be are named with the reason"""
    return creation_response(
        lambda session: accept_plan(
            session, code, caller=caller(), held_until=asked["held_until"], now=now()
        ),
        ACCEPTED.dump,
    )
