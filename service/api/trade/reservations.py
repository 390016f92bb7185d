"""Reservations over JSON: hold or offer, confirm, deliver, release."""

from typing import Any, ClassVar

import marshmallow as ma
from flask import Response

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
    version_of,
)
from service.api.fields import AnswerBody, Body, Choice, Code, Day, Instant, Kilograms
from service.errors import (
    IllegalStep,
    InvalidRequest,
    LotOnHold,
    NotEnoughStock,
    NotSoldInThatMass,
    OutOfRange,
    TokenNeeded,
)
from service.facts import Fact
from service.market.trade.reservations import SHOWN_RESERVATION_STATES, ActingFor, Reservation, Reserve
from service.request_context import caller, now, read, write
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

    command: ClassVar[type[Fact] | None] = ActingFor

    brewery_code = Code(party=True, load_default=None, allow_none=True)
    grower_code = Code(party=True, load_default=None, allow_none=True)


class ReservationBody(ActingForBody):
    """A promise asked for: a brewery's is held, a grower's is an offer and names the request."""

    command = Reserve

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
    position = read_position(asked, int)
    found = read(
        lambda session: list_reservations(
            session,
            caller=caller(),
            filters={name: asked[name] for name in FILTERS},
            after=position[0] if position else None,
            limit=asked["limit"] + 1,
            now=now(),
        )
    )
    return page_response(
        found,
        query=asked,
        key=lambda item: [item[1]],
        dump=lambda items: ANSWER_SCHEMA.dump([promise for promise, _ in items], many=True),
    )


@bp.route("", methods=["POST"])
@bp.arguments(ReservationBody)
@bp.response(201, ReservationAnswer)
@bp.refuses(*CHANGING, IllegalStep, LotOnHold, OutOfRange, NotEnoughStock, NotSoldInThatMass)
@bp.repeatable
def post_reservation(command: Reserve) -> Response:
    """Hold part of a lot (a brewery), or offer it for a request (a grower)"""

    return creation_response(
        lambda session: reserve_mass(session, caller=caller(), command=command, now=now()),
        ANSWER_SCHEMA.dump,
        headers=lambda made: {"Location": f"/v1/reservations/{made.code}", **_headers(made)},
    )


@bp.route("/<code>")
@bp.response(200, ReservationAnswer)
@bp.refuses(*READING)
def get_reservation(code: str) -> Response:
    """Show a reservation to its two sides"""
    promise = read(lambda session: show_reservation(session, code, caller=caller()))
    return json_response(ANSWER_SCHEMA.dump(promise), headers=_headers(promise))


@bp.route("/<code>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(*READING, IllegalStep)
def delete_reservation(code: str) -> None:
    """Release a reservation: the grower until both confirmed, the brewery until delivery"""
    write(lambda session: release_reservation(session, code, caller=caller(), now=now()))


@bp.route("/<code>/confirmation", methods=["POST"])
@bp.arguments(ConfirmationBody, required=False)
@bp.response(200, ReservationAnswer)
@bp.refuses(*CHANGING, IllegalStep, LotOnHold, NotEnoughStock, NotSoldInThatMass)
@bp.repeatable
def post_confirmation(acting_for: ActingFor, code: str) -> Response:
    """Confirm for one's own side; with both sides the reservation is confirmed"""

    return creation_response(
        lambda session: confirm_reservation(session, code, caller=caller(), acting_for=acting_for, now=now()),
        ANSWER_SCHEMA.dump,
        status=200,
        headers=_headers,
    )


@bp.route("/<code>/delivery", methods=["POST"])
@bp.arguments(DeliveredBody)
@bp.response(200, ReservationAnswer)
@bp.refuses(*CHANGING, IllegalStep, LotOnHold, OutOfRange)
@bp.repeatable
def post_delivery(asked: dict[str, Any], code: str) -> Response:
    """Record what the grower delivered; the rest is free again"""

    return creation_response(
        lambda session: deliver_reservation(session, code, caller=caller(), now=now(), **asked),
        ANSWER_SCHEMA.dump,
        status=200,
        headers=_headers,
    )
