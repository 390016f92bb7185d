"""Samples for the rub, over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    READING,
    Blueprint,
    PageQuery,
    creation_response,
    json_response,
    page_of,
    page_response,
    read_position,
)
from service.api.fields import AnswerBody, Body, Choice, Code, Day, Flag, Instant, Kilograms, Text, Whole
from service.api.trade.reservations import ANSWER_SCHEMA as RESERVATION_SCHEMA
from service.api.trade.reservations import ReservationAnswer
from service.errors import (
    IllegalStep,
    InvalidRequest,
    LotOnHold,
    NotAllowed,
    NotEnoughStock,
    NotFound,
    NotSoldInThatMass,
    OutOfRange,
    TokenNeeded,
)
from service.market.trade.rub_samples import RUB_WORDS, SAMPLE_G_MAX, STATES
from service.request_context import caller, now, read, write
from service.usecases.trade.rub_samples import (
    answer_for_sample,
    ask_for_sample,
    dispatch_sample,
    give_sample_up,
    list_samples,
    select_lot,
    show_sample,
    welcome_sample,
    write_notes,
)

bp = Blueprint("rub_samples", __name__, url_prefix="/v1/rub-samples", description="Samples for the rub")
STEP = (TokenNeeded, NotFound, NotAllowed, InvalidRequest, IllegalStep)


class RubSampleBody(Body):
    """Grams asked for; the specialist names the brewery."""

    lot_code = Code(required=True)
    mass_g = Whole(1, SAMPLE_G_MAX, required=True)
    words = Text(longest=2000, load_default=None, allow_none=True)
    brewery_code = Code(party=True, load_default=None, allow_none=True)


class SampleAnswerBody(Body):
    """The grower's answer."""

    approves = Flag(required=True)
    answer = Text(longest=2000, load_default=None, allow_none=True)


class SentBody(Body):
    """The day it was sent."""

    sent_on = Day(required=True)


class ArrivedBody(Body):
    """The day it came."""

    received_on = Day(required=True)


class NotesBody(Body):
    """What was smelled; the brewery's own unless it shares it."""

    notes = Text(longest=8000, required=True, allow_none=True)
    notes_shared = Flag(load_default=False)


class SelectionBody(Body):
    """How much of the lot the brewery offers to take."""

    mass_kg = Kilograms(required=True)
    request_code = Code(load_default=None, allow_none=True)
    held_until = Instant(load_default=None, allow_none=True)


class RubSampleAnswer(AnswerBody):
    """A sample; `notes` only to the brewery unless it shared them."""

    code = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    brewery_code = ma.fields.String(required=True)
    state = ma.fields.String(required=True)
    mass_g = ma.fields.Integer(required=True)
    words = ma.fields.String(required=True, allow_none=True)
    answer = ma.fields.String(required=True, allow_none=True)
    sent_on = ma.fields.Date(required=True, allow_none=True)
    received_on = ma.fields.Date(required=True, allow_none=True)
    booking_code = ma.fields.String(required=True, allow_none=True)
    notes = ma.fields.String(required=True, allow_none=True)
    notes_shared = ma.fields.Boolean(required=True)
    reservation_code = ma.fields.String(required=True, allow_none=True)
    made_at = Instant(required=True)
    made_by = ma.fields.String(required=True)
    changed_at = Instant(required=True)
    changed_by = ma.fields.String(required=True)
    cautions = ma.fields.List(ma.fields.String())


class SelectionAnswer(AnswerBody):
    """The sample, and the brewery's offer it led to."""

    sample = ma.fields.Nested(RubSampleAnswer, required=True)
    reservation = ma.fields.Nested(ReservationAnswer, required=True)


class RubSampleQuery(PageQuery):
    """Which of one's own samples."""

    lot_code = Code(load_default=None)
    state = Choice(STATES, load_default=None)


ANSWER_SCHEMA = RubSampleAnswer()


def _body(sample: Any) -> dict[str, Any]:
    body: dict[str, Any] = ANSWER_SCHEMA.dump(sample)
    return {**body, "cautions": [RUB_WORDS]} if sample.state in ("sent", "received") else body


@bp.route("", methods=["POST"])
@bp.arguments(RubSampleBody)
@bp.response(201, RubSampleAnswer)
@bp.refuses(*STEP, LotOnHold, OutOfRange)
@bp.repeatable
def post_rub_sample(asked: dict[str, Any]) -> Response:
    """Ask a grower for grams of a lot to rub"""

    return creation_response(
        lambda session: ask_for_sample(session, caller=caller(), now=now(), **asked),
        _body,
        headers=lambda sample: {"Location": f"/v1/rub-samples/{sample.code}"},
    )


@bp.route("")
@bp.arguments(RubSampleQuery, location="query")
@bp.response(200, page_of(RubSampleAnswer, "RubSamplePage"))
@bp.refuses(InvalidRequest, TokenNeeded)
def get_rub_samples(asked: dict[str, Any]) -> Response:
    """One's samples on either side, newest first"""
    position = read_position(asked, int)
    found = read(
        lambda session: list_samples(
            session,
            caller=caller(),
            filters={"lot_code": asked["lot_code"], "state": asked["state"]},
            after=position[0] if position else None,
            limit=asked["limit"] + 1,
        )
    )
    return page_response(
        found,
        query=asked,
        key=lambda item: [item[1]],
        dump=lambda items: [_body(sample) for sample, _ in items],
    )


@bp.route("/<code>")
@bp.response(200, RubSampleAnswer)
@bp.refuses(*READING)
def get_rub_sample(code: str) -> Response:
    """Show a sample to its two sides"""
    return json_response(_body(read(lambda session: show_sample(session, code, caller=caller()))))


@bp.route("/<code>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(*READING, NotAllowed, IllegalStep)
def delete_rub_sample(code: str) -> None:
    """Give up a sample that was not sent yet"""
    write(lambda session: give_sample_up(session, code, caller=caller(), now=now()))


@bp.route("/<code>/answer", methods=["POST"])
@bp.arguments(SampleAnswerBody)
@bp.response(200, RubSampleAnswer)
@bp.refuses(*STEP)
@bp.repeatable
def post_rub_sample_answer(asked: dict[str, Any], code: str) -> Response:
    """Approve a sample, or decline it"""

    return creation_response(
        lambda session: answer_for_sample(session, code, caller=caller(), now=now(), **asked),
        _body,
        status=200,
    )


@bp.route("/<code>/dispatch", methods=["POST"])
@bp.arguments(SentBody)
@bp.response(200, RubSampleAnswer)
@bp.refuses(*STEP, LotOnHold, OutOfRange, NotEnoughStock)
@bp.repeatable
def post_rub_sample_dispatch(asked: dict[str, Any], code: str) -> Response:
    """Record that a sample was sent; its grams are booked out of the lot"""

    return creation_response(
        lambda session: dispatch_sample(session, code, caller=caller(), now=now(), **asked), _body, status=200
    )


@bp.route("/<code>/arrival", methods=["POST"])
@bp.arguments(ArrivedBody)
@bp.response(200, RubSampleAnswer)
@bp.refuses(*STEP, OutOfRange)
@bp.repeatable
def post_rub_sample_arrival(asked: dict[str, Any], code: str) -> Response:
    """Record that a sample came"""

    return creation_response(
        lambda session: welcome_sample(session, code, caller=caller(), now=now(), **asked), _body, status=200
    )


@bp.route("/<code>/notes", methods=["POST"])
@bp.arguments(NotesBody)
@bp.response(200, RubSampleAnswer)
@bp.refuses(*STEP)
@bp.repeatable
def post_rub_sample_notes(asked: dict[str, Any], code: str) -> Response:
    """Write what was smelled; nobody else reads it unless it is shared"""

    notes, shared = asked["notes"], asked["notes_shared"]
    return creation_response(
        lambda session: write_notes(session, code, caller=caller(), now=now(), notes=notes, shared=shared),
        _body,
        status=200,
    )


@bp.route("/<code>/selection", methods=["POST"])
@bp.arguments(SelectionBody)
@bp.response(201, SelectionAnswer)
@bp.refuses(*STEP, LotOnHold, OutOfRange, NotEnoughStock, NotSoldInThatMass)
@bp.repeatable
def post_rub_sample_selection(asked: dict[str, Any], code: str) -> Response:
    """Select the lot: the brewery offers to take so much, and it is taken once the grower confirms"""

    return creation_response(
        lambda session: select_lot(session, code, caller=caller(), now=now(), **asked),
        lambda made: {"sample": _body(made[0]), "reservation": RESERVATION_SCHEMA.dump(made[1])},
        headers=lambda made: {"Location": f"/v1/reservations/{made[1].code}"},
    )
