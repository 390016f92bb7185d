"""Listing a lot, over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    creation_response,
)
from service.api.fields import AnswerBody, Body, Choice
from service.errors import (
    IllegalStep,
    ListingIncomplete,
    LotOnHold,
    NotAllowed,
    PickedInsideInterval,
)
from service.market.goods.lots import READINESS
from service.request_context import caller, now, write
from service.usecases.goods.listing import list_lot, withdraw_lot

bp = Blueprint("listing", __name__, url_prefix="/v1/lots", description="Showing a lot to brewers")


class ListingBody(Body):
    """As what a lot is shown."""

    as_ = Choice(READINESS, data_key="as", load_default="analysed")


class ListingAnswer(AnswerBody):
    """A listed lot."""

    lot_code = ma.fields.String(attribute="code", required=True)
    state = ma.fields.String(attribute="shown_state", required=True)
    readiness = ma.fields.String(required=True)
    first_listed_on = ma.fields.Date(required=True)


ANSWER_SCHEMA = ListingAnswer()


@bp.route("/<code>/listing", methods=["POST"])
@bp.arguments(ListingBody)
@bp.response(201, ListingAnswer)
@bp.refuses(*CHANGING, ListingIncomplete, PickedInsideInterval, IllegalStep, LotOnHold)
@bp.repeatable
def post_listing(asked: dict[str, Any], code: str) -> Response:
    """List a lot as analysed, as awaiting analysis, or as announced before picking"""

    return creation_response(
        lambda session: list_lot(session, code, caller=caller(), readiness=asked["as_"], now=now()),
        ANSWER_SCHEMA.dump,
        headers=lambda lot: {"Location": f"/v1/lots/{code}"},
    )


@bp.route("/<code>/listing", methods=["DELETE"])
@bp.response(204)
@bp.refuses(*READING, NotAllowed, IllegalStep)
def delete_listing(code: str) -> None:
    """Withdraw a lot from every search; commitments on it stand"""
    write(lambda session: withdraw_lot(session, code, caller=caller(), now=now()))
