"""Requests over JSON: what a brewery wants."""

from typing import Any

from flask import Response

from service.api.contract import (
    MERGE_PATCH,
    Blueprint,
    PageQuery,
    json_answer,
    json_response,
    next_link,
    page_of,
    read_cursor,
    require_version,
    respond,
    version_of,
    write_cursor,
)
from service.api.fields import (
    Choice,
)
from service.api.matching.request_schemas import (
    ANSWER_SCHEMA,
    OWNED,
    RequestAnswer,
    RequestBody,
    RequestPatch,
)
from service.errors import (
    IllegalStep,
    InvalidRequest,
    NotAllowed,
    NotFound,
    PreconditionNeeded,
    PreconditionStale,
    TokenNeeded,
)
from service.market.matching.requests import SHOWN_REQUEST_STATES, Request
from service.request_context import Answer, caller, create, now, read, write
from service.usecases.matching.requests import (
    list_requests,
    place_request,
    revise_request,
    show_request,
    withdraw_request,
)

bp = Blueprint("requests", __name__, url_prefix="/v1/requests", description="What breweries want")


class RequestQuery(PageQuery):
    """Which of one's own requests."""

    state = Choice(SHOWN_REQUEST_STATES, load_default=None)


def _version(request: Request) -> str:
    # A withdrawal is the owner's doing, too; whether a request is filled is not.
    return version_of({**OWNED.dump(request), "withdrawn": request.state == "withdrawn"})


@bp.route("")
@bp.arguments(RequestQuery, location="query")
@bp.response(200, page_of(RequestAnswer, "RequestPage"))
@bp.refuses(InvalidRequest, TokenNeeded)
def get_requests(asked: dict[str, Any]) -> Response:
    """One's own requests, newest first; the specialist sees everybody's"""
    after = read_cursor(asked["cursor"], asked, length=1)
    limit = asked["limit"]
    found = read(
        lambda session: list_requests(
            session,
            caller=caller(),
            state=asked["state"],
            after=after[0] if after and isinstance(after[0], int) else None,
            limit=limit + 1,
            now=now(),
        )
    )
    cursor = write_cursor([found[limit - 1][1]], asked) if len(found) > limit else None
    items = ANSWER_SCHEMA.dump([request for request, _ in found[:limit]], many=True)
    return json_response({"items": items, "next": cursor}, headers=next_link(cursor))


@bp.route("", methods=["POST"])
@bp.arguments(RequestBody)
@bp.response(201, RequestAnswer)
@bp.refuses(TokenNeeded, NotAllowed, NotFound, InvalidRequest)
@bp.repeatable
def post_request(asked: dict[str, Any]) -> Response:
    """Say what a brewery wants, when and within which limits"""

    def work(session: Any) -> Answer:
        request = place_request(session, caller=caller(), asked=asked, now=now())
        address = {"Location": f"/v1/requests/{request.code}", "ETag": _version(request)}
        return json_answer(ANSWER_SCHEMA.dump(request), headers=address)

    return respond(create(work))


@bp.route("/<code>")
@bp.response(200, RequestAnswer)
@bp.refuses(TokenNeeded, NotFound)
def get_request(code: str) -> Response:
    """Show a request to its brewery"""
    request = read(lambda session: show_request(session, code, caller=caller()))
    return json_response(ANSWER_SCHEMA.dump(request), headers={"ETag": _version(request)})


@bp.route("/<code>", methods=["PATCH"])
@bp.arguments(RequestPatch, content_type=MERGE_PATCH)
@bp.response(200, RequestAnswer)
@bp.refuses(
    TokenNeeded, NotFound, NotAllowed, InvalidRequest, IllegalStep, PreconditionNeeded, PreconditionStale
)
@bp.versioned
def patch_request(changes: dict[str, Any], code: str) -> Response:
    """Change a request"""
    request = write(
        lambda session: revise_request(
            session,
            code,
            caller=caller(),
            changes=changes,
            now=now(),
            unless_changed=lambda found: require_version(_version(found)),
        )
    )
    return json_response(ANSWER_SCHEMA.dump(request), headers={"ETag": _version(request)})


@bp.route("/<code>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(TokenNeeded, NotFound, NotAllowed, IllegalStep, PreconditionNeeded, PreconditionStale)
@bp.versioned
def delete_request(code: str) -> None:
    """Withdraw a request; what is promised for it stands"""
    write(
        lambda session: withdraw_request(
            session,
            code,
            caller=caller(),
            unless_changed=lambda found: require_version(_version(found)),
        )
    )
