"""What leaves a lot other than by delivery, over JSON."""

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
from service.api.fields import AnswerBody, Body, Choice, Day, Instant, Kilograms, Text
from service.api.goods.lot_schemas import PackageAnswer
from service.errors import (
    IllegalStep,
    NotAllowed,
    NotEnoughStock,
    OutOfRange,
)
from service.market.goods.bookings import BY_HAND
from service.request_context import caller, now, read
from service.usecases.goods.bookings import book_out, list_bookings, take_booking_back

bp = Blueprint(
    "bookings", __name__, url_prefix="/v1/lots", description="Samples, sweepings, losses: what leaves a lot"
)


class BookingBody(Body):
    """Kilograms that left the lot; of a re-weighing, what the scale says instead."""

    kind = Choice(BY_HAND, required=True)
    mass_kg = Kilograms(load_default=None, allow_none=True)
    weighed_kg = Kilograms(
        above=False,
        load_default=None,
        allow_none=True,
        metadata={
            "description": "With reweighing_loss instead of mass_kg: all that lies in the store, promised or not"
        },
    )
    booked_on = Day(required=True)
    reason = Text(longest=500, required=True)


class TakenBackBody(Body):
    """Why a booking is taken back."""

    reason = Text(longest=500, required=True)


class BookingAnswer(AnswerBody):
    """Kilograms that left the lot; one that was taken back counts no more."""

    code = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True)
    kind = ma.fields.String(required=True)
    mass_kg = Kilograms(required=True)
    booked_on = ma.fields.Date(required=True)
    reason = ma.fields.String(required=True)
    into_lot_code = ma.fields.String(required=True, allow_none=True)
    packages = ma.fields.List(ma.fields.Nested(PackageAnswer), required=True)
    made_at = Instant(required=True)
    made_by = ma.fields.String(required=True)
    taken_back_at = Instant(required=True, allow_none=True)
    taken_back_by = ma.fields.String(required=True, allow_none=True)
    taken_back_reason = ma.fields.String(required=True, allow_none=True)


class BookingList(AnswerBody):
    """All bookings of a lot, oldest first."""

    items = ma.fields.List(ma.fields.Nested(BookingAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)


ANSWER_SCHEMA = BookingAnswer()


@bp.route("/<code>/bookings", methods=["POST"])
@bp.arguments(BookingBody)
@bp.response(201, BookingAnswer)
@bp.refuses(*CHANGING, IllegalStep, OutOfRange, NotEnoughStock)
@bp.repeatable
def post_booking(asked: dict[str, Any], code: str) -> Response:
    """Book kilograms out of a lot: a sample, sweepings, a loss, a re-weighing"""

    return creation_response(
        lambda session: book_out(session, code, caller=caller(), asked=asked, now=now()),
        ANSWER_SCHEMA.dump,
        headers=lambda booking: {"Location": f"/v1/lots/{code}/bookings"},
    )


@bp.route("/<code>/bookings")
@bp.response(200, BookingList)
@bp.refuses(*READING, NotAllowed)
def get_bookings(code: str) -> Response:
    """What left a lot other than by delivery, for its grower"""
    found = read(lambda session: list_bookings(session, code, caller=caller(), now=now()))
    return json_response({"items": ANSWER_SCHEMA.dump(found, many=True), "next": None})


@bp.route("/<code>/bookings/<booking_code>/reversal", methods=["POST"])
@bp.arguments(TakenBackBody)
@bp.response(200, BookingAnswer)
@bp.refuses(*CHANGING, IllegalStep)
@bp.repeatable
def post_reversal(asked: dict[str, Any], code: str, booking_code: str) -> Response:
    """Take a booking back, as after a slip of the pen; its kilograms are free again; not of a rub sample that was sent"""

    return creation_response(
        lambda session: take_booking_back(
            session, code, booking_code=booking_code, caller=caller(), reason=asked["reason"], now=now()
        ),
        ANSWER_SCHEMA.dump,
        status=200,
    )
