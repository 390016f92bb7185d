"""What a party was told, and the searches it saved, over JSON."""

from copy import copy
from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    PageQuery,
    json_answer,
    json_response,
    page_of,
    page_response,
    read_position,
    respond,
)
from service.api.fields import AnswerBody, Body, Code, Flag, Instant, Text
from service.api.goods.lots import LotQuery
from service.errors import InvalidRequest, TokenNeeded
from service.market.trade.notices import KINDS
from service.request_context import Answer, caller, create, now, read, write
from service.usecases.trade.notices import (
    forget_search,
    list_notices,
    list_searches,
    read_notice,
    save_search,
)

bp = Blueprint("notices", __name__, url_prefix="/v1", description="Notices, and what they are wanted for")
# What belongs to one look at the list, and not to a wish that stands.
OF_ONE_LOOK = ("limit", "cursor", "mine", "state", "on", "sort")


def _filters() -> type[Body]:
    """The filters of a search, in a body."""
    fields: dict[str, Any] = {"__doc__": "The filters of a search for lots, those that are given together."}
    for name, declared in LotQuery().fields.items():
        if name in OF_ONE_LOOK:
            continue
        twin = copy(declared)
        if hasattr(twin, "in_query"):
            twin.in_query = False
        fields[name] = twin
    return type("LotFilters", (Body,), fields)


class SavedSearchBody(Body):
    """A search that a brewery wants to hear about whenever a lot is listed."""

    name = Text(longest=80, required=True)
    filters = ma.fields.Nested(_filters(), required=True)
    by_mail = Flag(load_default=True)
    brewery_code = Code(party=True, load_default=None, allow_none=True)


class SavedSearchAnswer(AnswerBody):
    """A saved search."""

    code = ma.fields.String(required=True)
    brewery_code = ma.fields.String(required=True)
    name = ma.fields.String(required=True)
    filters = ma.fields.Dict(keys=ma.fields.String(), required=True)
    by_mail = ma.fields.Boolean(required=True)
    made_at = Instant(required=True)
    made_by = ma.fields.String(required=True)


class SavedSearchList(AnswerBody):
    """All saved searches of a brewery."""

    items = ma.fields.List(ma.fields.Nested(SavedSearchAnswer), required=True)


class NoticeAnswer(AnswerBody):
    """What a party was told; one that comes twice, in the feed or by mail, has the same number."""

    number = ma.fields.Integer(required=True)
    party = ma.fields.String(required=True)
    kind = ma.fields.String(
        required=True, metadata={"description": f"{', '.join(KINDS[:-1])} or {KINDS[-1]}"}
    )
    source = ma.fields.String(required=True)
    subject = ma.fields.String(required=True)
    words = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True, allow_none=True)
    made_at = Instant(required=True)
    read_at = Instant(required=True, allow_none=True)
    mail_state = ma.fields.String(
        required=True, metadata={"description": "none, waiting, sent, or given_up with mail_problem"}
    )
    mail_problem = ma.fields.String(required=True, allow_none=True)


class NoticeQuery(PageQuery):
    """Which notices."""

    unread = Flag(in_query=True, load_default=False)


SAVED, ANSWER_SCHEMA = SavedSearchAnswer(), NoticeAnswer()


@bp.route("/saved-searches", methods=["POST"])
@bp.arguments(SavedSearchBody)
@bp.response(201, SavedSearchAnswer)
@bp.refuses(*CHANGING)
@bp.repeatable
def post_saved_search(asked: dict[str, Any]) -> Response:
    """Save a search; the brewery is told of every lot that passes it when it is listed"""

    def work(session: Any) -> Answer:
        return json_answer(SAVED.dump(save_search(session, caller=caller(), now=now(), **asked)))

    return respond(create(work))


@bp.route("/saved-searches")
@bp.response(200, SavedSearchList)
@bp.refuses(TokenNeeded)
def get_saved_searches() -> Response:
    """One's saved searches"""
    found = read(lambda session: list_searches(session, caller=caller()))
    return json_response({"items": SAVED.dump(found, many=True)})


@bp.route("/saved-searches/<code>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(*READING)
def delete_saved_search(code: str) -> None:
    """Forget a saved search"""
    write(lambda session: forget_search(session, code, caller=caller()))


@bp.route("/notices")
@bp.arguments(NoticeQuery, location="query")
@bp.response(200, page_of(NoticeAnswer, "NoticePage"))
@bp.refuses(InvalidRequest, TokenNeeded)
def get_notices(asked: dict[str, Any]) -> Response:
    """What one was told, newest first"""
    position = read_position(asked, int)
    found = read(
        lambda session: list_notices(
            session,
            caller=caller(),
            unread=asked["unread"],
            after=position[0] if position else None,
            limit=asked["limit"] + 1,
        )
    )
    return page_response(
        found,
        query=asked,
        key=lambda notice: [notice.number],
        dump=lambda notices: ANSWER_SCHEMA.dump(notices, many=True),
    )


@bp.route("/notices/<int(max=9007199254740991):number>/reading", methods=["POST"])
@bp.response(200, NoticeAnswer)
@bp.refuses(*READING)
def post_notice_reading(number: int) -> Response:
    """Mark a notice as read; twice changes nothing"""
    noted = write(lambda session: read_notice(session, number, caller=caller(), now=now()))
    return json_response(ANSWER_SCHEMA.dump(noted))
