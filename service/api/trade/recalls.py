"""Recalls over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    PageQuery,
    creation_response,
    json_answer,
    json_response,
    page_of,
    page_response,
    read_position,
    respond,
)
from service.api.fields import AnswerBody, Body, Choice, Code, Instant, Kilograms, Text
from service.api.goods.lot_schemas import PackageAnswer
from service.errors import IllegalStep, InvalidRequest, OutOfRange, TokenNeeded
from service.market.goods.quality_holds import CONCERNS
from service.request_context import Answer, caller, create, now, read
from service.usecases.trade.recalls import (
    acknowledge_recall,
    close_recall,
    list_recalls,
    open_recall,
    show_recall,
)

bp = Blueprint(
    "recalls", __name__, url_prefix="/v1/recalls", description="Recalling a lot from all its holders"
)


class RecallBody(Body):
    """What is recalled and why."""

    lot_code = Code(required=True)
    concern = Choice(CONCERNS, required=True)
    words = Text(longest=2000, required=True, metadata={"description": "what holders should know and do"})


class AcknowledgementBody(Body):
    """A holder's answer; the specialist names the holder it answers for."""

    left_kg = Kilograms(load_default=None, allow_none=True, above=False)
    words = Text(longest=2000, load_default=None, allow_none=True)
    grower_code = Code(party=True, load_default=None, allow_none=True)
    brewery_code = Code(party=True, load_default=None, allow_none=True)


class ClosingBody(Body):
    """What was found."""

    finding = Text(longest=2000, required=True)


class RecallLineAnswer(AnswerBody):
    """What one holder has, or was promised, of one lot."""

    lot_code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    holder = ma.fields.String(required=True)
    reservation_code = ma.fields.String(required=True, allow_none=True)
    state = ma.fields.String(
        required=True,
        metadata={"description": "in_stock, or the state of the reservation when it was opened"},
    )
    mass_kg = Kilograms(required=True, above=False)
    packages = ma.fields.List(
        ma.fields.Nested(PackageAnswer),
        required=True,
        metadata={"description": "those a brewery counted at receipt; where nobody counted, the lot's own"},
    )
    acknowledged_at = Instant(required=True, allow_none=True)
    acknowledged_by = ma.fields.String(required=True, allow_none=True)
    left_kg = Kilograms(required=True, allow_none=True, above=False)
    words = ma.fields.String(required=True, allow_none=True)


class RecallAnswer(AnswerBody):
    """A recall, with the lines that the reader may see."""

    code = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    concern = ma.fields.String(required=True)
    words = ma.fields.String(required=True)
    is_open = ma.fields.Boolean(required=True)
    unanswered = ma.fields.Integer(required=True, metadata={"description": "of the lines shown"})
    elsewhere = ma.fields.Integer(
        required=True, metadata={"description": "lines of other growers' customers, which only they see"}
    )
    elsewhere_unanswered = ma.fields.Integer(required=True)
    opened_at = Instant(required=True)
    opened_by = ma.fields.String(required=True)
    closed_at = Instant(required=True, allow_none=True)
    closed_by = ma.fields.String(required=True, allow_none=True)
    finding = ma.fields.String(required=True, allow_none=True)
    lines = ma.fields.List(ma.fields.Nested(RecallLineAnswer), required=True)


ANSWER_SCHEMA = RecallAnswer()


@bp.route("", methods=["POST"])
@bp.arguments(RecallBody)
@bp.response(201, RecallAnswer)
@bp.refuses(*CHANGING)
@bp.repeatable
def post_recall(asked: dict[str, Any]) -> Response:
    """Recall a lot with all that was made of it: everything stops, every holder is named"""

    return creation_response(
        lambda session: open_recall(session, caller=caller(), now=now(), **asked),
        ANSWER_SCHEMA.dump,
        headers=lambda recall: {"Location": f"/v1/recalls/{recall.code}"},
    )


@bp.route("")
@bp.arguments(PageQuery, location="query")
@bp.response(200, page_of(RecallAnswer, "RecallPage"))
@bp.refuses(InvalidRequest, TokenNeeded)
def get_recalls(asked: dict[str, Any]) -> Response:
    """The recalls that concern one, newest first"""
    position = read_position(asked, int)
    found = read(
        lambda session: list_recalls(
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
        dump=lambda items: ANSWER_SCHEMA.dump([recall for recall, _ in items], many=True),
    )


@bp.route("/<code>")
@bp.response(200, RecallAnswer)
@bp.refuses(*READING)
def get_recall(code: str) -> Response:
    """Show a recall to those whom it concerns, each with its own lines"""
    return json_response(
        ANSWER_SCHEMA.dump(read(lambda session: show_recall(session, code, caller=caller())))
    )


@bp.route("/<code>/acknowledgement", methods=["POST"])
@bp.arguments(AcknowledgementBody)
@bp.response(200, RecallAnswer)
@bp.refuses(*CHANGING, IllegalStep, OutOfRange)
@bp.repeatable
def post_acknowledgement(asked: dict[str, Any], code: str) -> Response:
    """Say that one was reached, and what is left unused"""
    growers, breweries = asked.pop("grower_code"), asked.pop("brewery_code")
    is_grower = caller().role == "grower" or (caller().is_specialist and breweries is None)
    holder = ("grower", growers) if is_grower else ("brewery", breweries)

    return creation_response(
        lambda session: acknowledge_recall(session, code, caller=caller(), holder=holder, now=now(), **asked),
        ANSWER_SCHEMA.dump,
        status=200,
    )


@bp.route("/<code>/closing", methods=["POST"])
@bp.arguments(ClosingBody)
@bp.response(200, RecallAnswer)
@bp.refuses(*CHANGING, IllegalStep)
@bp.repeatable
def post_closing(asked: dict[str, Any], code: str) -> Response:
    """Close a recall with what was found; the holds it placed are lifted"""

    def work(session: Any) -> Answer:
        return json_answer(
            ANSWER_SCHEMA.dump(close_recall(session, code, caller=caller(), now=now(), **asked)), status=200
        )

    return respond(create(work))
