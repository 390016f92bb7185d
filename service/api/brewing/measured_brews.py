"""A brewery's measured brews, and its own utilization that follows from them, over JSON."""

from datetime import datetime
from typing import Any

import marshmallow as ma
from flask import Response

from service.api.brewing.brew_answers import BIG
from service.api.brewing.brew_schemas import BrewBody
from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    PageQuery,
    creation_response,
    json_response,
    page_of,
    page_response,
    read_position,
)
from service.api.fields import AnswerBody, Choice, Day, Instant, Number, Query, Text, facts
from service.errors import (
    FigureMissing,
    NoStorageModel,
    NotAllowed,
    OutOfRange,
    UnfitBrews,
)
from service.market.brewing.base_methods import BASE_MODELS, DEFAULT_MODEL
from service.request_context import caller, now, read, write
from service.science.brewhouse import ALPHA_BASES
from service.usecases.brewing.calibrations import file_brew, list_brews, take_back_brew, utilization_of

bp = Blueprint(
    "measured-brews",
    __name__,
    url_prefix="/v1/breweries",
    description="A brewery's measured brews, and its own utilization",
)


class MeasuredBrewBody(BrewBody):
    """A brew whose bitterness a laboratory measured in the beer."""

    brewed_on = Day(required=True)
    measured_bu = Number(1, 200, required=True)
    note = Text(longest=500)


class MeasuredBrewAnswer(AnswerBody):
    """A measured brew as it was told; the alpha of its lots was settled when it was filed."""

    code = ma.fields.String(required=True)
    brewery_code = ma.fields.String(required=True)
    brewed_on = ma.fields.Date(required=True)
    measured_bu = Number(*BIG, required=True)
    told = facts(required=True)
    hops = ma.fields.List(
        facts(), required=True, metadata={"description": "Form and alpha of each addition, by basis of alpha"}
    )
    note = ma.fields.String(required=True, allow_none=True)
    filed_at = Instant(required=True)
    filed_by = ma.fields.String(required=True)


MeasuredBrewPage = page_of(MeasuredBrewAnswer, "MeasuredBrewPage")


class UtilizationQuery(Query):
    """On which base method, and on which alpha."""

    base_model = Choice(BASE_MODELS, load_default=DEFAULT_MODEL)
    alpha_basis = Choice(ALPHA_BASES, load_default="estimated")


class ReckonedBrewAnswer(AnswerBody):
    """What was measured of a brew, beside what the base method and the fit give for it."""

    code = ma.fields.String(attribute="brew.code", required=True)
    brewed_on = ma.fields.Date(attribute="brew.brewed_on", required=True)
    measured_bu = Number(*BIG, attribute="brew.measured_bu", required=True)
    boil_ibu = Number(*BIG, required=True)
    whirlpool_ibu = Number(*BIG, required=True)
    predicted_ibu = Number(*BIG, required=True)


class UtilizationAnswer(AnswerBody):
    """Factors on the base method; `left_out_error_log` is ln(measured/predicted) of each brew from the others."""

    brewery_code = ma.fields.String(required=True)
    base_model = ma.fields.String(attribute="fit.base_model", required=True)
    alpha_basis = ma.fields.String(attribute="fit.alpha_basis", required=True)
    factor = Number(*BIG, attribute="fit.factor", required=True)
    whirlpool_factor = Number(*BIG, attribute="fit.whirlpool_factor", required=True)
    has_own_whirlpool_factor = ma.fields.Boolean(attribute="fit.has_own_whirlpool_factor", required=True)
    left_out_error_log = Number(*BIG, attribute="fit.left_out_error_log", required=True)
    brews = ma.fields.List(ma.fields.Nested(ReckonedBrewAnswer), required=True)


ANSWER_SCHEMA, UTILIZATION_SCHEMA = MeasuredBrewAnswer(), UtilizationAnswer()


@bp.route("/<code>/brews", methods=["POST"])
@bp.arguments(MeasuredBrewBody)
@bp.response(201, MeasuredBrewAnswer)
@bp.refuses(*CHANGING, FigureMissing, NoStorageModel, OutOfRange)
@bp.repeatable
def post_brew(asked: dict[str, Any], code: str) -> Response:
    """Keep a brew with its measured bitterness; from three on the brewery's own utilization follows"""

    return creation_response(
        lambda session: file_brew(session, code, caller=caller(), asked=asked, now=now()),
        ANSWER_SCHEMA.dump,
        headers=lambda _brew: {"Location": f"/v1/breweries/{code}/brews"},
    )


@bp.route("/<code>/brews")
@bp.arguments(PageQuery, location="query")
@bp.response(200, MeasuredBrewPage)
@bp.refuses(*CHANGING)
def get_brews(query: dict[str, Any], code: str) -> Response:
    """A brewery's measured brews, newest filed first"""
    after = read_position(query, str, str)
    found = read(
        lambda session: list_brews(
            session,
            code,
            caller=caller(),
            after=None if after is None else (datetime.fromisoformat(after[0]), after[1]),
            limit=query["limit"] + 1,
        )
    )
    return page_response(
        found,
        query=query,
        key=lambda brew: (brew.filed_at.isoformat(), brew.code),
        dump=lambda items: ANSWER_SCHEMA.dump(items, many=True),
    )


@bp.route("/<code>/brews/<brew_code>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(*READING, NotAllowed)
def delete_brew(code: str, brew_code: str) -> None:
    """Take a measured brew back; the utilization follows at once"""
    write(lambda session: take_back_brew(session, code, brew_code, caller=caller()))


@bp.route("/<code>/utilization")
@bp.arguments(UtilizationQuery, location="query")
@bp.response(200, UtilizationAnswer)
@bp.refuses(*CHANGING, UnfitBrews)
def get_utilization(query: dict[str, Any], code: str) -> Response:
    """A brewery's own utilization, as it follows from its measured brews, with what each brew says"""
    found = read(
        lambda session: utilization_of(
            session,
            code,
            caller=caller(),
            base_model=query["base_model"],
            alpha_basis=query["alpha_basis"],
        )
    )
    return json_response(UTILIZATION_SCHEMA.dump(found))
