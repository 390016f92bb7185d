"""A brewery's own utilization, over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.brewing.brew_answers import BIG
from service.api.brewing.brew_schemas import BrewBody
from service.api.contract import Blueprint, json_answer, json_response, respond
from service.api.fields import AnswerBody, Body, Choice, Day, Instant, Number, Text, facts
from service.errors import (
    FigureMissing,
    InvalidRequest,
    NoStorageModel,
    NotAllowed,
    NotFound,
    OutOfRange,
    TokenNeeded,
    UnfitBrews,
)
from service.market.brewing.brews import ALPHA_BASES, BASE_MODELS
from service.request_context import Answer, caller, create, now, read
from service.usecases.brewing.calibrations import learn_utilization, list_utilizations

bp = Blueprint(
    "utilization-fits", __name__, url_prefix="/v1/breweries", description="A brewery's own utilization"
)


class PastBrewBody(BrewBody):
    """A brew whose bitterness a laboratory measured in the beer."""

    brewed_on = Day(required=True)
    measured_bu = Number(1, 200, required=True)


class FitBody(Body):
    """Past brews, all reckoned by one base model on one alpha; at least three are needed for a fit."""

    base_model = Choice(BASE_MODELS, load_default="tinseth")
    alpha_basis = Choice(ALPHA_BASES, required=True)
    brews = ma.fields.List(ma.fields.Nested(PastBrewBody), required=True, validate=ma.validate.Length(1, 200))
    note = Text(longest=500)


class PastBrewAnswer(AnswerBody):
    """What the base model gave for a brew, beside what was measured."""

    brewed_on = ma.fields.Date(required=True)
    measured_bu = Number(*BIG, required=True)
    boil_ibu = Number(*BIG, required=True)
    whirlpool_ibu = Number(*BIG, required=True)
    told = facts(required=True)


class FitAnswer(AnswerBody):
    """Factors on the base model; the error is that of each brew predicted from the others."""

    code = ma.fields.String(required=True)
    brewery_code = ma.fields.String(required=True)
    base_model = ma.fields.String(attribute="fit.base_model", required=True)
    alpha_basis = ma.fields.String(attribute="fit.alpha_basis", required=True)
    factor = Number(*BIG, attribute="fit.factor", required=True)
    whirlpool_factor = Number(*BIG, attribute="fit.whirlpool_factor", required=True)
    has_own_whirlpool_factor = ma.fields.Boolean(attribute="fit.has_own_whirlpool_factor", required=True)
    left_out_error_fraction = Number(*BIG, attribute="fit.left_out_error_fraction", required=True)
    brews = ma.fields.List(ma.fields.Nested(PastBrewAnswer), required=True)
    note = ma.fields.String(required=True, allow_none=True)
    made_at = Instant(required=True)
    made_by = ma.fields.String(required=True)


class FitList(AnswerBody):
    """The fits of a brewery, oldest first."""

    items = ma.fields.List(ma.fields.Nested(FitAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)


ANSWER_SCHEMA = FitAnswer()


@bp.route("/<code>/utilization-fits", methods=["POST"])
@bp.arguments(FitBody)
@bp.response(201, FitAnswer)
@bp.refuses(
    InvalidRequest,
    TokenNeeded,
    NotAllowed,
    NotFound,
    FigureMissing,
    NoStorageModel,
    OutOfRange,
    UnfitBrews,
)
@bp.repeatable
def post_utilization_fit(asked: dict[str, Any], code: str) -> Response:
    """Learn a brewery's own utilization from brews with measured bitterness"""

    def work(session: Any) -> Answer:
        fit = learn_utilization(session, code, caller=caller(), asked=asked, now=now())
        return json_answer(
            ANSWER_SCHEMA.dump(fit), headers={"Location": f"/v1/breweries/{code}/utilization-fits"}
        )

    return respond(create(work))


@bp.route("/<code>/utilization-fits")
@bp.response(200, FitList)
@bp.refuses(TokenNeeded, NotAllowed, NotFound)
def get_utilization_fits(code: str) -> Response:
    """A brewery's own utilizations, with the brews behind each"""
    found = read(lambda session: list_utilizations(session, code, caller=caller()))
    return json_response({"items": ANSWER_SCHEMA.dump(found, many=True), "next": None})
