"""Stopping a lot, over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    creation_response,
    json_response,
)
from service.api.fields import AnswerBody, Body, Choice, Instant, Text
from service.errors import IllegalStep
from service.market.goods.quality_holds import CONCERNS
from service.request_context import caller, now, read
from service.usecases.goods.quality_holds import lift_hold, list_holds, place_hold

bp = Blueprint("quality_holds", __name__, url_prefix="/v1/lots", description="Stopping a lot at once")


class QualityHoldBody(Body):
    """A concern about a lot."""

    concern = Choice(CONCERNS, required=True)
    words = Text(longest=2000, required=True, metadata={"description": "what was seen, and on what"})


class LiftingBody(Body):
    """What was found."""

    finding = Text(longest=2000, required=True)


class QualityHoldAnswer(AnswerBody):
    """A hold, open or lifted."""

    code = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True)
    concern = ma.fields.String(required=True)
    words = ma.fields.String(required=True)
    recall_code = ma.fields.String(required=True, allow_none=True)
    is_open = ma.fields.Boolean(required=True)
    placed_at = Instant(required=True)
    placed_by = ma.fields.String(required=True)
    lifted_at = Instant(required=True, allow_none=True)
    lifted_by = ma.fields.String(required=True, allow_none=True)
    finding = ma.fields.String(required=True, allow_none=True)


class QualityHoldsAnswer(AnswerBody):
    """Every hold a lot had, oldest first."""

    items = ma.fields.List(ma.fields.Nested(QualityHoldAnswer), required=True)


ANSWER_SCHEMA = QualityHoldAnswer()


@bp.route("/<code>/quality-holds", methods=["POST"])
@bp.arguments(QualityHoldBody)
@bp.response(201, QualityHoldAnswer)
@bp.refuses(*CHANGING)
@bp.repeatable
def post_quality_hold(asked: dict[str, Any], code: str) -> Response:
    """Put a lot on hold: it leaves every search, and nothing of it is promised, moved or delivered"""

    return creation_response(
        lambda session: place_hold(session, code, caller=caller(), now=now(), **asked),
        ANSWER_SCHEMA.dump,
    )


@bp.route("/<code>/quality-holds")
@bp.response(200, QualityHoldsAnswer)
@bp.refuses(*READING)
def get_quality_holds(code: str) -> Response:
    """Every hold a lot had, for its grower, the specialist and parties to a commitment"""
    found = read(lambda session: list_holds(session, code, caller=caller(), now=now()))
    return json_response({"items": ANSWER_SCHEMA.dump(found, many=True)})


@bp.route("/<code>/quality-holds/<hold_code>/lifting", methods=["POST"])
@bp.arguments(LiftingBody)
@bp.response(200, QualityHoldAnswer)
@bp.refuses(*CHANGING, IllegalStep)
@bp.repeatable
def post_lifting(asked: dict[str, Any], code: str, hold_code: str) -> Response:
    """Lift a hold with what was found; the grower then lists the lot again"""

    return creation_response(
        lambda session: lift_hold(session, code, hold_code, caller=caller(), now=now(), **asked),
        ANSWER_SCHEMA.dump,
        status=200,
    )
