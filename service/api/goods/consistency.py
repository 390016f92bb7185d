"""How alike a grower's lots are, over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    CHANGING,
    Blueprint,
    json_response,
)
from service.api.fields import AnswerBody, Code, Query, Text
from service.request_context import caller, now, read
from service.usecases.goods.consistency import show_consistency

bp = Blueprint("consistency", __name__, url_prefix="/v1/growers", description="How alike a grower's lots are")


class ConsistencyQuery(Query):
    """Which cultivar, and which lot to place among the others."""

    cultivar = Text(longest=100, required=True)
    lot_code = Code(load_default=None)


class SpreadAnswer(AnswerBody):
    """The middle and the robust spread; one odd lot hardly moves them."""

    n = ma.fields.Integer(required=True)
    median = ma.fields.Float(required=True)
    robust_sd = ma.fields.Float(required=True)
    least = ma.fields.Float(required=True)
    largest = ma.fields.Float(required=True)


class EffectAnswer(AnswerBody):
    """The crop year's part of the spread apart from the lot's, as standard deviations."""

    n = ma.fields.Integer(required=True)
    years = ma.fields.Integer(required=True)
    mean = ma.fields.Float(required=True)
    year_sd = ma.fields.Float(required=True)
    lot_sd = ma.fields.Float(required=True)
    is_year_effect_hidden = ma.fields.Boolean(required=True)


class StandingAnswer(AnswerBody):
    """Where one lot stands among the grower's lots."""

    value = ma.fields.Float(required=True)
    rank_from_least = ma.fields.Integer(required=True)
    of = ma.fields.Integer(required=True)
    robust_score = ma.fields.Float(required=True, allow_none=True)


class FigureConsistencyAnswer(AnswerBody):
    """The spread of one figure, in the figure's unit."""

    name = ma.fields.String(required=True)
    n = ma.fields.Integer(required=True)
    spread = ma.fields.Nested(SpreadAnswer, required=True, allow_none=True)
    effect = ma.fields.Nested(EffectAnswer, required=True, allow_none=True)
    standing = ma.fields.Nested(StandingAnswer, required=True, allow_none=True)
    left_out = ma.fields.Integer(required=True)
    words = ma.fields.String(required=True)


class ConsistencyAnswer(AnswerBody):
    """How alike one grower's lots of one cultivar are."""

    grower_code = ma.fields.String(required=True)
    cultivar = ma.fields.String(required=True)
    lots = ma.fields.Integer(required=True)
    crop_years = ma.fields.List(ma.fields.Integer(), required=True)
    is_shown_to_brewers = ma.fields.Boolean(required=True)
    figures = ma.fields.List(ma.fields.Nested(FigureConsistencyAnswer), required=True)
    words = ma.fields.String(required=True)


ANSWER_SCHEMA = ConsistencyAnswer()


@bp.route("/<code>/consistency")
@bp.arguments(ConsistencyQuery, location="query")
@bp.response(200, ConsistencyAnswer)
@bp.refuses(*CHANGING)
def get_consistency(asked: dict[str, Any], code: str) -> Response:
    """Spread of a grower's lots of a cultivar, year apart from lot; for breweries with the grower's consent"""
    found = read(lambda session: show_consistency(session, code, caller=caller(), now=now(), **asked))
    return json_response(ANSWER_SCHEMA.dump(found))
