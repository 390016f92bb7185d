"""Reservations over JSON: hold or offer, confirm, deliver, release."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    Blueprint,
    PageQuery,
    json_answer,
    json_response,
    next_link,
    page_of,
    read_cursor,
    respond,
    version_of,
    write_cursor,
)
from service.api.fields import AnswerBody, Body, Choice, Code, Day, Instant, Kilograms
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
from service.market.trade.reservations import SHOWN_RESERVATION_STATES, Reservation
from service.request_context import Answer, caller, create, now, read, write
from service.usecases.trade.reservations import (
    confirm_reservation,
    deliver_reservation,
    list_reservations,
    release_reservation,
    reserve_mass,
    show_reservation,
)

bp = Blueprint("reservations", __name__, url_prefix="/v1/reservations", description="Promises on lots")


class ActingForBody(Body):
    """For whom the specialist acts."""

    brewery_code = Code(party=True, load_default=None, allow_none=True)
    grower_code = Code(party=True, load_default=None, allow_none=True)


class ReservationBody(ActingForBody):
    """A promise asked for: a brewery's is held, a grower's is an offer and names the request."""

    lot_code = Code(required=True)
    request_code = Code(load_default=None, allow_none=True)
    mass_kg = Kilograms(required=True)
    held_until = Instant(
        load_default=None,
        allow_none=True,
        metadata={"description": "At most 60 days ahead; a hold stands 7 days unless said"},
    )


class ConfirmationBody(ActingForBody):
    """Nothing; the specialist names the side it acts for."""


class DeliveredBody(Body):
    """What was delivered."""

    delivered_on = Day(required=True)
    mass_kg = Kilograms(required=True)


class ReservationAnswer(AnswerBody):
    """A promise; `expired` is read from the clock."""

    code = ma.fields.String(required=True)
    state = ma.fields.Function(
        lambda promise: promise.shown_state(now()), metadata={"type": "string"}, required=True
    )
    lot_code = ma.fields.String(required=True)
    request_code = ma.fields.String(required=True, allow_none=True)
    brewery_code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    mass_kg = Kilograms(required=True)
    held_until = Instant(required=True, allow_none=True)
    confirmed_by = ma.fields.List(ma.fields.String(), required=True)
    delivered_on = ma.fields.Date(required=True, allow_none=True)
    delivered_kg = Kilograms(required=True, allow_none=True)
    returned_kg = Kilograms(required=True, above=False)
    made_at = Instant(required=True)
    made_by = ma.fields.String(required=True)
    changed_at = Instant(required=True)
    changed_by = ma.fields.String(required=True)


class ReservationQuery(PageQuery):
    """Which of one's own reservations."""

    state = Choice(SHOWN_RESERVATION_STATES, load_default=None)
    lot_code = Code(load_default=None)
    request_code = Code(load_default=None)


ANSWER_SCHEMA = ReservationAnswer()
FILTERS = ("state", "lot_code", "request_code")


def _headers(promise: Reservation) -> dict[str, str]:
    return {"ETag": version_of(ANSWER_SCHEMA.dump(promise))}


@bp.route("")
@bp.arguments(ReservationQuery, location="query")
@bp.response(200, page_of(ReservationAnswer, "ReservationPage"))
@bp.refuses(InvalidRequest, TokenNeeded)
def get_reservations(asked: dict[str, Any]) -> Response:
    """One's own reservations on either side, newest first"""
    after = read_cursor(asked["cursor"], asked, length=1)
    limit = asked["limit"]
    found = read(
        lambda session: list_reservations(
            session,
            caller=caller(),
            filters={name: asked[name] for name in FILTERS},
            after=after[0] if after and isinstance(after[0], int) else None,
            limit=limit + 1,
            now=now(),
        )
    )
    cursor = write_cursor([found[limit - 1][1]], asked) if len(found) > limit else None
    items = ANSWER_SCHEMA.dump([promise for promise, _ in found[:limit]], many=True)
    return json_response({"items": items, "next": cursor}, headers=next_link(cursor))


@bp.route("", methods=["POST"])
@bp.arguments(ReservationBody)
@bp.response(201, ReservationAnswer)
@bp.refuses(
    TokenNeeded,
    NotAllowed,
    NotFound,
    InvalidRequest,
    IllegalStep,
    LotOnHold,
    OutOfRange,
    NotEnoughStock,
    NotSoldInThatMass,
)
@bp.repeatable
def post_reservation(asked: dict[str, Any]) -> Response:
    """Hold part of a lot (a brewery), or offer it for a request (a grower)"""

    def work(session: Any) -> Answer:
        promise = reserve_mass(session, caller=caller(), asked=asked, now=now())
        address = {"Location": f"/v1/reservations/{promise.code}", **_headers(promise)}
        return json_answer(ANSWER_SCHEMA.dump(promise), headers=address)

    return respond(create(work))


@bp.route("/<code>")
@bp.response(200, ReservationAnswer)
@bp.refuses(TokenNeeded, NotFound)
def get_reservation(code: str) -> Response:
    """Show a reservation to its two sides"""
    promise = read(lambda session: show_reservation(session, code, caller=caller()))
    return json_response(ANSWER_SCHEMA.dump(promise), headers=_headers(promise))


@bp.route("/<code>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(TokenNeeded, NotFound, IllegalStep)
def delete_reservation(code: str) -> None:
    """Release a reservation: the grower until both confirmed, the brewery until delivery"""
    write(lambda session: release_reservation(session, code, caller=caller(), now=now()))


@bp.route("/<code>/confirmation", methods=["POST"])
@bp.arguments(ConfirmationBody, required=False)
@bp.response(200, ReservationAnswer)
@bp.refuses(
    TokenNeeded,
    NotFound,
    NotAllowed,
    InvalidRequest,
    IllegalStep,
    LotOnHold,
    NotEnoughStock,
    NotSoldInThatMass,
)
@bp.repeatable
def post_confirmation(asked: dict[str, Any], code: str) -> Response:
    """Confirm for one's own side; with both sides the reservation is confirmed"""

    def work(session: Any) -> Answer:
        promise = confirm_reservation(session, code, caller=caller(), asked=asked, now=now())
        return json_answer(ANSWER_SCHEMA.dump(promise), status=200, headers=_headers(promise))

    return respond(create(work))


@bp.route("/<code>/delivery", methods=["POST"])
@bp.arguments(DeliveredBody)
@bp.response(200, ReservationAnswer)
@bp.refuses(TokenNeeded, NotFound, NotAllowed, InvalidRequest, IllegalStep, LotOnHold, OutOfRange)
@bp.repeatable
def post_delivery(asked: dict[str, Any], code: str) -> Response:
    """Record what the grower delivered; the rest is free again"""

    def work(session: Any) -> Answer:
        promise = deliver_reservation(session, code, caller=caller(), now=now(), **asked)
        return json_answer(ANSWER_SCHEMA.dump(promise), status=200, headers=_headers(promise))

    return respond(create(work))
