"""The spray record, over JSON."""

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
from service.api.fields import AnswerBody, Body, Code, Day, Instant, Text, Whole, lines
from service.errors import IllegalStep, NotAllowed
from service.market.growing.sprays import LONGEST_INTERVAL_DAYS
from service.reference.cautions import get_caution
from service.request_context import Answer, caller, create, now, read
from service.usecases.growing.sprays import enter_spray, list_sprays, list_sprays_of_lot

bp = Blueprint("sprays", __name__, url_prefix="/v1", description="The spray record of a yard's blocks")
STOP = (
    "Lots picked inside the interval are no longer listed; promises on them stand. Until it is clear what may become of"
    " them, put each on hold: POST /v1/lots/{code}/quality-holds with the concern spray."
)
CAUTIONS = ("harvest_interval", "residues")


class SprayBody(Body):
    """What was applied to a block: product and interval as the label has them."""

    block = Text(longest=60, required=True)
    season = Whole(
        1900,
        2200,
        load_default=None,
        allow_none=True,
        metadata={"description": "The year of the harvest it was for; default: the year of the spray"},
    )
    product = Text(longest=120, required=True, metadata={"description": "As the label names it"})
    active_ingredient = Text(longest=200, required=True)
    sprayed_on = Day(required=True)
    harvest_interval_days = Whole(
        0, LONGEST_INTERVAL_DAYS, required=True, metadata={"description": "As on the label"}
    )
    note = Text(longest=500, load_default=None, allow_none=True)
    corrects = Code(load_default=None, allow_none=True)
    reason = Text(longest=500, load_default=None, allow_none=True)


class SprayAnswer(AnswerBody):
    """An entry as it was made; `corrected_by` names the one that took its place."""

    code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    block = ma.fields.String(required=True)
    season = ma.fields.Integer(required=True)
    product = ma.fields.String(required=True)
    active_ingredient = ma.fields.String(required=True)
    sprayed_on = ma.fields.Date(required=True)
    harvest_interval_days = ma.fields.Integer(required=True)
    earliest_picking_on = ma.fields.Date(required=True)
    note = ma.fields.String(allow_none=True)
    corrects = ma.fields.String(allow_none=True)
    reason = ma.fields.String(allow_none=True)
    corrected_by = ma.fields.String(allow_none=True)
    entered_at = Instant(required=True)
    entered_by = ma.fields.String(required=True)


class PickedInsideAnswer(AnswerBody):
    """A lot of the block that was picked before the interval had passed."""

    lot_code = ma.fields.String(required=True)
    picked_on = ma.fields.Date(required=True, allow_none=True)
    window_closes_on = ma.fields.Date(required=True, allow_none=True)


class SprayEnteredAnswer(SprayAnswer):
    """A new entry, the lots picked inside its interval, and the lots whose listing it ended."""

    picked_inside = ma.fields.List(ma.fields.Nested(PickedInsideAnswer), required=True)
    withdrawn_lots = ma.fields.List(ma.fields.String(), required=True)
    cautions = lines(required=True)


class SprayPage(page_of(SprayAnswer, "Sprays")):  # type: ignore[misc]
    """Entries in the order they were made."""


class SprayQuery(PageQuery):
    """Which part of the record."""

    block = Text(longest=60, load_default=None)
    season = Whole(1900, 2200, in_query=True, load_default=None)


ANSWER_SCHEMA = SprayAnswer()


@bp.route("/growers/<code>/sprays", methods=["POST"])
@bp.arguments(SprayBody)
@bp.response(201, SprayEnteredAnswer)
@bp.refuses(*CHANGING, IllegalStep)
@bp.repeatable
def post_spray(asked: dict[str, Any], code: str) -> Response:
    """Enter a spray, or correct an entry with a reason; a lot picked inside its interval is no longer listed"""

    def work(session: Any) -> Answer:
        entered = enter_spray(session, code, caller=caller(), asked=asked, now=now())
        body = {
            **ANSWER_SCHEMA.dump(entered.spray),
            "picked_inside": PickedInsideAnswer(many=True).dump(entered.inside),
            "withdrawn_lots": list(entered.withdrawn),
            "cautions": [get_caution(name).words for name in CAUTIONS] + ([STOP] if entered.inside else []),
        }
        return json_answer(body, headers={"Location": f"/v1/growers/{code}/sprays"})

    return respond(create(work))


@bp.route("/growers/<code>/sprays")
@bp.arguments(SprayQuery, location="query")
@bp.response(200, SprayPage)
@bp.refuses(*CHANGING)
def get_sprays(asked: dict[str, Any], code: str) -> Response:
    """A grower's spray record with what was corrected, for the grower and the specialist"""
    position = read_position(asked, str)
    found = read(
        lambda session: list_sprays(
            session,
            code,
            caller=caller(),
            block=asked["block"],
            season=asked["season"],
            after=position[0] if position else None,
            limit=asked["limit"] + 1,
        )
    )
    return page_response(
        found,
        query=asked,
        key=lambda spray: [spray.code],
        dump=lambda sprays: ANSWER_SCHEMA.dump(sprays, many=True),
    )


class LotSpraysAnswer(AnswerBody):
    """The entries for the blocks a lot comes from, in the season of its harvest."""

    items = ma.fields.List(ma.fields.Nested(SprayAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)
    cautions = lines(required=True)


@bp.route("/lots/<code>/sprays")
@bp.response(200, LotSpraysAnswer)
@bp.refuses(*READING, NotAllowed)
def get_sprays_of_lot(code: str) -> Response:
    """What was applied to the blocks a lot comes from, for its grower and parties to a promise on it"""
    found = read(lambda session: list_sprays_of_lot(session, code, caller=caller(), now=now()))
    cautions = [get_caution(name).words for name in CAUTIONS]
    return json_response({"items": ANSWER_SCHEMA.dump(found, many=True), "next": None, "cautions": cautions})
