"""Requests over JSON: what a brewery wants."""

from typing import Any

from flask import Response

from service.api.contract import (
    CHANGING,
    MERGE_PATCH,
    READING,
    Blueprint,
    PageQuery,
    creation_response,
    json_response,
    page_of,
    page_response,
    read_position,
    require_version,
    version_of,
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
    TokenNeeded,
)
from service.market.matching.requests import SHOWN_REQUEST_STATES, Request
from service.request_context import caller, now, read, write
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
    position = read_position(asked, int)
    found = read(
        lambda session: list_requests(
            session,
            caller=caller(),
            state=asked["state"],
            after=position[0] if position else None,
            limit=asked["limit"] + 1,
            now=now(),
        )
    )
    return page_response(
        found,
        query=asked,
        key=lambda item: [item[1]],
        dump=lambda items: ANSWER_SCHEMA.dump([request for request, _ in items], many=True),
    )


@bp.route("", methods=["POST"])
@bp.arguments(RequestBody)
@bp.response(201, RequestAnswer)
@bp.refuses(*CHANGING)
@bp.repeatable
def post_request(asked: dict[str, Any]) -> Response:
    """Say what a brewery wants, when and within which limits"""

    return creation_response(
        lambda session: place_request(session, caller=caller(), asked=asked, now=now()),
        ANSWER_SCHEMA.dump,
        headers=lambda made: {"Location": f"/v1/requests/{made.code}", "ETag": _version(made)},
    )


@bp.route("/<code>")
@bp.response(200, RequestAnswer)
@bp.refuses(*READING)
def get_request(code: str) -> Response:
    """Show a request to its brewery"""
    request = read(lambda session: show_request(session, code, caller=caller()))
    return json_response(ANSWER_SCHEMA.dump(request), headers={"ETag": _version(request)})


@bp.route("/<code>", methods=["PATCH"])
@bp.arguments(RequestPatch, content_type=MERGE_PATCH)
@bp.response(200, RequestAnswer)
@bp.refuses(*CHANGING, IllegalStep)
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
@bp.refuses(*READING, NotAllowed, IllegalStep)
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
