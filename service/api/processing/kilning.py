"""Kiln batches that fill a lot, over JSON."""

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
from service.api.fields import AnswerBody, Body, Code, Day, Instant, Kilograms, Number, Percent, Text
from service.errors import (
    FixedByListing,
    IllegalStep,
    ListingIncomplete,
    LotOnHold,
    NotAllowed,
    NotEnoughStock,
    OutOfRange,
    UnbalancedStep,
    UnfitGoods,
)
from service.request_context import caller, now, read, write
from service.usecases.processing.kilning import dry_into_lot, list_batches, take_batch_out

bp = Blueprint("kilning", __name__, url_prefix="/v1/lots", description="Kiln batches that fill a lot")


class KilnBatchBody(Body):
    """One load of the kiln."""

    dried_on = Day(required=True)
    wet_kg = Kilograms(required=True)
    dry_kg = Kilograms(required=True)
    wet_moisture_percent = Percent(0, 99, load_default=None, allow_none=True)
    dry_moisture_percent = Percent(0, 99, load_default=None, allow_none=True)
    from_lot_code = Code(
        load_default=None, allow_none=True, metadata={"description": "The lot of wet hops it was taken from"}
    )
    note = Text(longest=500, load_default=None, allow_none=True)


class KilnBatchesBody(Body):
    """Loads of the kiln, one or several; the lot's mass is the sum of all that came out."""

    batches = ma.fields.List(
        ma.fields.Nested(KilnBatchBody), required=True, validate=ma.validate.Length(min=1, max=50)
    )


class KilnBatchAnswer(AnswerBody):
    """One load of the kiln, with what it lost."""

    code = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True)
    dried_on = ma.fields.Date(required=True)
    wet_kg = Kilograms(required=True)
    dry_kg = Kilograms(required=True)
    loss_kg = Kilograms(required=True)
    wet_moisture_percent = Percent(required=True, allow_none=True)
    dry_moisture_percent = Percent(required=True, allow_none=True)
    dry_matter_left_percent = Number(
        0,
        100_000,
        required=True,
        allow_none=True,
        metadata={
            "description": "Of the dry matter that went in, what came out by both moistures; far from 100 one of the"
            " four figures is wrong"
        },
    )
    from_lot_code = ma.fields.String(required=True, allow_none=True)
    note = ma.fields.String(required=True, allow_none=True)
    made_at = Instant(required=True)
    made_by = ma.fields.String(required=True)


class KilnBatchList(AnswerBody):
    """All batches that filled a lot, oldest first."""

    items = ma.fields.List(ma.fields.Nested(KilnBatchAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)


ANSWER_SCHEMA = KilnBatchAnswer()


@bp.route("/<code>/kiln-batches", methods=["POST"])
@bp.arguments(KilnBatchesBody)
@bp.response(201, KilnBatchList)
@bp.refuses(
    *CHANGING, IllegalStep, FixedByListing, LotOnHold, OutOfRange, NotEnoughStock, UnbalancedStep, UnfitGoods
)
@bp.repeatable
def post_kiln_batches(asked: dict[str, Any], code: str) -> Response:
    """Fill a lot from the kiln: wet kilograms in, dry kilograms out"""

    return creation_response(
        lambda session: dry_into_lot(session, code, caller=caller(), asked=asked, now=now()),
        lambda batches: {"items": ANSWER_SCHEMA.dump(batches, many=True), "next": None},
        headers=lambda _: {"Location": f"/v1/lots/{code}/kiln-batches"},
    )


@bp.route("/<code>/kiln-batches")
@bp.response(200, KilnBatchList)
@bp.refuses(*READING)
def get_kiln_batches(code: str) -> Response:
    """The kiln batches that filled a lot"""
    found = read(lambda session: list_batches(session, code, caller=caller(), now=now()))
    return json_response({"items": ANSWER_SCHEMA.dump(found, many=True), "next": None})


@bp.route("/<code>/kiln-batches/<batch_code>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(*READING, NotAllowed, FixedByListing, ListingIncomplete, LotOnHold)
def delete_kiln_batch(code: str, batch_code: str) -> None:
    """Take a batch out again, as after a slip of the pen; its wet hops are free again"""
    write(lambda session: take_batch_out(session, code, batch_code, caller=caller(), now=now()))
