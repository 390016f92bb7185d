"""Where a lot comes from and where it went, over JSON."""

import marshmallow as ma
from flask import Response

from service.api.contract import (
    READING,
    Blueprint,
    json_response,
)
from service.api.fields import AnswerBody, Kilograms, Number, estimate, lines
from service.api.goods.lot_schemas import FiguresAnswer
from service.api.goods.lot_statement_schemas import StepAnswer
from service.errors import NotAllowed
from service.request_context import caller, now, read
from service.usecases.trade.traceability import show_origin, show_tree

bp = Blueprint("trees", __name__, url_prefix="/v1/lots", description="From beer to yard, from yard to beer")


class OriginPartAnswer(AnswerBody):
    """A lot that went into it; null is not for this caller to know. `figures` are from before the step."""

    lot_code = ma.fields.String(required=True, allow_none=True)
    grower_code = ma.fields.String(required=True, allow_none=True)
    cultivar = ma.fields.String(required=True, allow_none=True)
    crop_year = ma.fields.Integer(required=True, allow_none=True)
    form = ma.fields.String(required=True)
    share_percent = Number(0, 100, required=True)
    mass_kg = Kilograms(required=True, allow_none=True)
    brought_kg = Kilograms(required=True, allow_none=True)
    figures = ma.fields.Nested(FiguresAnswer, required=True, allow_none=True)


class GrowerShareAnswer(AnswerBody):
    """What a grower has in the lot; alpha acids as analysed, null where a lot of theirs has no alpha."""

    grower_code = ma.fields.String(required=True)
    brought_kg = Kilograms(required=True)
    mass_kg = Kilograms(required=True)
    share_percent = Number(0, 100, required=True)
    alpha_kg = estimate(required=True, allow_none=True)


class OriginAnswer(AnswerBody):
    """What a lot is made of. Alpha, beta and oil are reckoned by mass, never measured; null with the reason in words."""

    lot_code = ma.fields.String(required=True)
    step = ma.fields.Nested(StepAnswer, required=True, allow_none=True)
    parts = ma.fields.List(ma.fields.Nested(OriginPartAnswer), required=True)
    shares = ma.fields.List(ma.fields.Nested(GrowerShareAnswer), required=True)
    alpha_percent = estimate(required=True, allow_none=True)
    beta_percent = estimate(required=True, allow_none=True)
    oil_ml_per_100g = estimate(required=True, allow_none=True)
    words = lines(required=True)


class TreeLotAnswer(AnswerBody):
    """A lot in the tree; null is not for this caller to know."""

    code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    cultivar = ma.fields.String(required=True, allow_none=True)
    crop_year = ma.fields.Integer(required=True, allow_none=True)
    form = ma.fields.String(required=True)
    step = ma.fields.String(required=True, allow_none=True)
    done_on = ma.fields.Date(required=True, allow_none=True)
    mass_kg = Kilograms(required=True, allow_none=True)
    free_kg = Kilograms(required=True, allow_none=True, above=False)


class TreeEdgeAnswer(AnswerBody):
    """What went from one lot into another; `brought_kg` before the loss, `mass_kg` after it."""

    from_code = ma.fields.String(required=True)
    into_code = ma.fields.String(required=True)
    share_percent = Number(0, 100, required=True)
    mass_kg = Kilograms(required=True, allow_none=True)
    brought_kg = Kilograms(required=True, allow_none=True)


class TreeLeafAnswer(AnswerBody):
    """A promise on a lot of the tree; of a delivered one what was delivered and did not come back."""

    reservation_code = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True)
    brewery_code = ma.fields.String(required=True)
    state = ma.fields.String(required=True)
    mass_kg = Kilograms(required=True, above=False)


class TreeAnswer(AnswerBody):
    """The tree of a lot, as far as the caller may know of it."""

    lot_code = ma.fields.String(required=True)
    lots = ma.fields.List(ma.fields.Nested(TreeLotAnswer), required=True)
    edges = ma.fields.List(ma.fields.Nested(TreeEdgeAnswer), required=True)
    leaves = ma.fields.List(ma.fields.Nested(TreeLeafAnswer), required=True)


@bp.route("/<code>/origin")
@bp.response(200, OriginAnswer)
@bp.refuses(*READING)
def get_origin(code: str) -> Response:
    """What a lot is made of, each grower's share, and what was measured before"""
    return json_response(
        OriginAnswer().dump(read(lambda s: show_origin(s, code, caller=caller(), now=now())))
    )


@bp.route("/<code>/tree")
@bp.response(200, TreeAnswer)
@bp.refuses(*READING, NotAllowed)
def get_tree(code: str) -> Response:
    """All that a lot was made of, all that was made of it, and who has it"""
    return json_response(TreeAnswer().dump(read(lambda s: show_tree(s, code, caller=caller(), now=now()))))
