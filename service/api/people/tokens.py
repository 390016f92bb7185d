"""Tokens: made and revoked by the specialist.

`POST` refuses an Idempotency-Key: the answer that is kept for a repeat would hold the token.
"""

from typing import Any

import marshmallow as ma
from flask import Response, request

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    PageQuery,
    json_response,
    page_of,
    page_response,
    read_position,
)
from service.api.fields import AnswerBody, Body, Choice, Code, Instant, Text
from service.errors import InvalidRequest, NotAllowed, TokenNeeded
from service.market.people.access import require_specialist
from service.request_context import caller, now, read, write
from service.usecases.people.access import list_tokens, make_token, revoke_token

bp = Blueprint("tokens", __name__, url_prefix="/v1/tokens", description="Who may act for whom")


class TokenBody(Body):
    """A token asked for."""

    role = Choice(("grower", "brewery", "specialist"), required=True)
    party_code = Code(party=True, load_default=None, allow_none=True)
    label = Text(longest=80, load_default=None, allow_none=True)

    @ma.validates_schema
    def belongs_to_somebody(self, asked: dict[str, Any], **_kw: Any) -> None:
        """A grower's or brewery's token names its party, the specialist's none."""
        named = asked.get("party_code") is not None
        if "role" in asked and named == (asked["role"] == "specialist"):
            raise ma.ValidationError("A grower or brewery is named, the specialist is not.", "party_code")


class TokenAnswer(AnswerBody):
    """A token, shown this once."""

    id = ma.fields.Integer(required=True)
    token = ma.fields.String(required=True)
    role = ma.fields.String(required=True)
    party_code = ma.fields.String(allow_none=True)


class TokenLineAnswer(AnswerBody):
    """A token in the list; the token itself is never shown again."""

    id = ma.fields.Integer(required=True)
    role = ma.fields.String(required=True)
    party_code = ma.fields.String(required=True, allow_none=True)
    label = ma.fields.String(required=True, allow_none=True)
    made_at = Instant(required=True)
    last_used_on = ma.fields.Date(required=True, allow_none=True)
    revoked_at = Instant(required=True, allow_none=True)


LINE = TokenLineAnswer()


@bp.route("")
@bp.arguments(PageQuery, location="query")
@bp.response(200, page_of(TokenLineAnswer, "TokenPage"))
@bp.refuses(InvalidRequest, TokenNeeded, NotAllowed)
def get_tokens(asked: dict[str, Any]) -> Response:
    """List all tokens, newest first: whose they are, when they were made and last used"""
    position = read_position(asked, int)
    found = read(
        lambda session: list_tokens(
            session, caller=caller(), after=position[0] if position else None, limit=asked["limit"] + 1
        )
    )
    return page_response(
        found, query=asked, key=lambda line: [line.id], dump=lambda lines: LINE.dump(lines, many=True)
    )


@bp.route("", methods=["POST"])
@bp.arguments(TokenBody)
@bp.response(201, TokenAnswer)
@bp.refuses(*CHANGING)
@bp.needs_token
def post_token(asked: dict[str, Any]) -> Response:
    """Make a token; only its digest is kept, so it is shown this once"""
    if "Idempotency-Key" in request.headers:
        # A kept answer would keep the token itself, readable, for a day.
        fault = {"parameter": "Idempotency-Key", "detail": "Not taken here: the token itself is never kept."}
        raise InvalidRequest("a token is made anew each time", errors=[fault])

    def work(session: Any) -> tuple[int, str]:
        require_specialist(caller())
        return make_token(session, now=now(), **asked)

    number, token = write(work)
    body = {"id": number, "token": token, "role": asked["role"], "party_code": asked["party_code"]}
    return json_response(body, status=201, headers={"Cache-Control": "no-store"})


@bp.route("/<int(max=2000000000):token_id>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(*READING, NotAllowed)
def delete_token(token_id: int) -> None:
    """Revoke a token"""

    def work(session: Any) -> None:
        require_specialist(caller())
        revoke_token(session, token_id=token_id, now=now())

    write(work)
