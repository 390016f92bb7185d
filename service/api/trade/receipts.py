"""What a brewery received, over JSON."""

from decimal import Decimal
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
from service.api.fields import (
    AnswerBody,
    Body,
    Choice,
    Currency,
    Day,
    Instant,
    Kilograms,
    Money,
    Number,
    Text,
)
from service.api.goods.lot_schemas import PackageAnswer, PackageBody
from service.api.trade.reservations import ANSWER_SCHEMA as RESERVATION_SCHEMA
from service.api.trade.reservations import ReservationAnswer
from service.errors import IllegalStep, OutOfRange
from service.facts import as_dict
from service.market.trade.deliveries import CONDITIONS, RETURNED_WORDS, Receipt
from service.market.trade.reservations import Reservation
from service.request_context import caller, now, read
from service.usecases.trade.receipts import book_return, receive_delivery, show_receipt

bp = Blueprint("receipts", __name__, url_prefix="/v1/reservations", description="What a brewery received")


class ReceiptBody(Body):
    """What arrived, in what condition, and how many kilograms of it the brewery takes."""

    received_on = Day(required=True)
    packages = ma.fields.List(
        ma.fields.Nested(PackageBody), load_default=list, validate=ma.validate.Length(max=50)
    )
    accepted_kg = Kilograms(
        required=True, above=False, metadata={"description": "What the brewery takes, by its own scale"}
    )
    refused_kg = Kilograms(load_default=Decimal(0), above=False)
    temperature_c = Number(-40, 60, load_default=None, allow_none=True)
    condition = Choice(CONDITIONS, required=True)
    words = Text(longest=2000, load_default=None, allow_none=True)
    agreed_price_per_kg = Money(load_default=None, allow_none=True)
    currency = Currency(load_default=None, allow_none=True)
    reason = Text(
        longest=2000,
        load_default=None,
        allow_none=True,
        metadata={"description": "why the hops are refused, or why an earlier receipt is corrected"},
    )


class ReturnBody(Body):
    """What came back of refused hops."""

    returned_on = Day(required=True)
    mass_kg = Kilograms(required=True)


class ReceiptAnswer(AnswerBody):
    """A receipt."""

    reservation_code = ma.fields.String(required=True)
    received_on = ma.fields.Date(required=True)
    packages = ma.fields.List(ma.fields.Nested(PackageAnswer), required=True)
    accepted_kg = Kilograms(required=True, above=False)
    refused_kg = Kilograms(required=True, above=False)
    short_kg = Kilograms(
        required=True, above=False, metadata={"description": "Delivered, and neither accepted nor refused"}
    )
    temperature_c = ma.fields.Float(required=True, allow_none=True)
    condition = ma.fields.String(required=True)
    words = ma.fields.String(required=True, allow_none=True)
    agreed_price_per_kg = Money(required=True, allow_none=True)
    currency = ma.fields.String(required=True, allow_none=True)
    reason = ma.fields.String(required=True, allow_none=True)
    made_at = Instant(required=True)
    made_by = ma.fields.String(required=True)


class ReturnAnswer(AnswerBody):
    """The reservation, and what to mind of goods that came back."""

    reservation = ma.fields.Nested(ReservationAnswer, required=True)
    cautions = ma.fields.List(ma.fields.String(), required=True)


ANSWER_SCHEMA = ReceiptAnswer()


@bp.route("/<code>/receipt", methods=["POST"])
@bp.arguments(ReceiptBody)
@bp.response(201, ReceiptAnswer)
@bp.refuses(*CHANGING, IllegalStep, OutOfRange)
@bp.repeatable
def post_receipt(asked: dict[str, Any], code: str) -> Response:
    """Record what the brewery received: kilograms accepted, and refused with reason; the rest is short"""
    return creation_response(
        lambda session: receive_delivery(session, code, caller=caller(), asked=asked, now=now()), _body
    )


@bp.route("/<code>/receipt")
@bp.response(200, ReceiptAnswer)
@bp.refuses(*READING)
def get_receipt(code: str) -> Response:
    """Show a receipt to both sides"""
    return json_response(_body(read(lambda session: show_receipt(session, code, caller=caller()))))


def _body(received: tuple[Receipt, Reservation]) -> Any:
    receipt, promise = received
    return ANSWER_SCHEMA.dump({**as_dict(receipt), "short_kg": receipt.short_kg(promise)})


@bp.route("/<code>/return", methods=["POST"])
@bp.arguments(ReturnBody)
@bp.response(200, ReturnAnswer)
@bp.refuses(*CHANGING, IllegalStep, OutOfRange)
@bp.repeatable
def post_return(asked: dict[str, Any], code: str) -> Response:
    """Book back what the brewery refused, trip by trip; until then its kilograms stand with the brewery"""

    return creation_response(
        lambda session: book_return(session, code, caller=caller(), now=now(), **asked),
        lambda promise: {"reservation": RESERVATION_SCHEMA.dump(promise), "cautions": [RETURNED_WORDS]},
        status=200,
    )
