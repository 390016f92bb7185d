"""Region-wide allocation over JSON: asked for, looked at, accepted."""

from typing import Any

from flask import Response

from service.api.contract import (
    Blueprint,
    PageQuery,
    json_answer,
    json_response,
    next_link,
    page_of,
    read_cursor,
    respond,
    write_cursor,
)
from service.api.planning.allocation_schemas import (
    AcceptanceAnswer,
    AcceptanceBody,
    AllocationAnswer,
    AllocationBody,
    AllocationLine,
)
from service.errors import IllegalStep, InvalidRequest, NotAllowed, NotFound, OutOfRange, TokenNeeded
from service.market.planning.allocation_rules import RULE_WORDS
from service.market.planning.allocations import Allocation
from service.request_context import Answer, caller, create, look_for_work, now, read
from service.usecases.planning.allocations import (
    accept_plan,
    list_allocations,
    order_allocation,
    show_allocation,
)

bp = Blueprint(
    "allocations", __name__, url_prefix="/v1/allocations", description="Which lots for which requests"
)
ANSWER_SCHEMA, LINE, ACCEPTED = AllocationAnswer(), AllocationLine(), AcceptanceAnswer()
UNFINISHED = ("waiting", "running")


def _told(allocation: Allocation) -> dict[str, Any]:
    body: dict[str, Any] = ANSWER_SCHEMA.dump(allocation)
    if body["plan"] is not None:
        body["plan"]["rule_words"] = RULE_WORDS[body["plan"]["rule"]]
    return body


@bp.route("", methods=["POST"])
@bp.arguments(AllocationBody)
@bp.response(202, AllocationAnswer)
@bp.refuses(TokenNeeded, NotAllowed, InvalidRequest)
@bp.repeatable
def post_allocation(asked: dict[str, Any]) -> Response:
    """Ask for a plan of all open requests and free lots; look at it until it is done"""

    def work(session: Any) -> Answer:
        allocation = order_allocation(session, caller=caller(), asked=asked, now=now())
        address = {"Location": f"/v1/allocations/{allocation.code}"}
        return json_answer(_told(allocation), status=202, headers=address)

    answer = create(work)
    look_for_work()
    return respond(answer)


@bp.route("")
@bp.arguments(PageQuery, location="query")
@bp.response(200, page_of(AllocationLine, "AllocationPage"))
@bp.refuses(TokenNeeded, NotAllowed, InvalidRequest)
def get_allocations(asked: dict[str, Any]) -> Response:
    """Allocations without their plans, newest first"""
    after = read_cursor(asked["cursor"], {}, length=1)
    limit = asked["limit"]
    found = read(
        lambda session: list_allocations(
            session,
            caller=caller(),
            after=after[0] if after and isinstance(after[0], int) else None,
            limit=limit + 1,
        )
    )
    cursor = write_cursor([found[limit - 1][1]], {}) if len(found) > limit else None
    items = LINE.dump([allocation for allocation, _ in found[:limit]], many=True)
    return json_response({"items": items, "next": cursor}, headers=next_link(cursor))


@bp.route("/<code>")
@bp.response(200, AllocationAnswer)
@bp.refuses(TokenNeeded, NotAllowed, NotFound)
def get_allocation(code: str) -> Response:
    """An allocation: how far it is, and its plan when it is done"""
    allocation = read(lambda session: show_allocation(session, code, caller=caller()))
    if allocation.state in UNFINISHED:
        # The process that worked on it may have died; this one takes it up then.
        look_for_work()
    return json_response(_told(allocation))


@bp.route("/<code>/acceptance", methods=["POST"])
@bp.arguments(AcceptanceBody)
@bp.response(201, AcceptanceAnswer)
@bp.refuses(TokenNeeded, NotAllowed, NotFound, IllegalStep, InvalidRequest, OutOfRange)
@bp.repeatable
def post_acceptance(asked: dict[str, Any], code: str) -> Response:
    """Make an offer of each parcel; those that can no longer be are named with the reason"""

    def work(session: Any) -> Answer:
        acceptance = accept_plan(session, code, caller=caller(), held_until=asked["held_until"], now=now())
        return json_answer(ACCEPTED.dump(acceptance))

    return respond(create(work))
