"""Delivery notes as PDF, and deliveries as a table for accounts."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    READING,
    Blueprint,
)
from service.api.fields import Body, Choice, Code, Day, Flag, Kilograms, Query, Text
from service.api.pdf import PDF, send_pdf
from service.errors import IllegalStep, InvalidRequest, TokenNeeded
from service.market.trade.delivery_notes import HANDOVERS, DeliveryNoteFacts, deliveries_csv
from service.request_context import caller, now, read, runtime
from service.sheets.papers import PAPERS
from service.usecases.trade.delivery_notes import delivery_note, list_deliveries

bp = Blueprint(
    "delivery-notes", __name__, url_prefix="/v1", description="Delivery notes, deliveries for accounts"
)
CSV = "text/csv"
BINARY = {"type": "string", "format": "binary"}


class NoteQuery(Query):
    """How it is printed and handed over; what is left out is left to the pen."""

    paper = Choice(tuple(PAPERS), load_default="a4")
    handover = Choice(HANDOVERS, load_default=None)
    is_cold = Flag(in_query=True, load_default=None)


class NotedParcelBody(Body):
    """One promise on the note."""

    reservation_code = Code(required=True)
    package_numbers = Text(longest=80, load_default=None, allow_none=True)
    gross_kg = Kilograms(load_default=None, allow_none=True)


class NoteBody(Body):
    """A note of one or several promises of one grower and one brewery."""

    parcels = ma.fields.List(
        ma.fields.Nested(NotedParcelBody), required=True, validate=ma.validate.Length(1, 100)
    )
    handover = Choice(HANDOVERS, load_default=None, allow_none=True)
    is_cold = Flag(load_default=None, allow_none=True)
    paper = Choice(tuple(PAPERS), load_default="a4")


class DeliveriesQuery(Query):
    """Which days; both ends count."""

    since = Day(load_default=None)
    until = Day(load_default=None)


@bp.route("/reservations/<code>/delivery-note.pdf")
@bp.arguments(NoteQuery, location="query")
@bp.response(200, BINARY, content_type=PDF)
@bp.refuses(*READING, IllegalStep, InvalidRequest)
def get_delivery_note(asked: dict[str, Any], code: str) -> Response:
    """The delivery note of one confirmed or delivered reservation"""
    return _note([{"reservation_code": code}], asked)


@bp.route("/delivery-notes", methods=["POST"])
@bp.arguments(NoteBody)
@bp.response(200, BINARY, content_type=PDF)
@bp.refuses(*READING, IllegalStep, InvalidRequest)
@bp.needs_token
def post_delivery_note(asked: dict[str, Any]) -> Response:
    """One delivery note for several reservations, with package numbers and gross masses; nothing is kept"""
    return _note(asked["parcels"], asked)


@bp.route("/deliveries.csv")
@bp.arguments(DeliveriesQuery, location="query")
@bp.response(200, {"type": "string"}, content_type=CSV)
@bp.refuses(TokenNeeded, InvalidRequest)
def get_deliveries_csv(asked: dict[str, Any]) -> Response:
    """One's own deliveries as CSV with what accounts need, oldest first; the service issues no invoice"""
    lines = read(lambda session: list_deliveries(session, caller=caller(), now=now(), **asked))
    headers = {"Content-Disposition": 'attachment; filename="deliveries.csv"'}
    return Response(deliveries_csv(lines), content_type=f"{CSV}; charset=utf-8", headers=headers)


def _note(parcels: list[dict[str, Any]], asked: dict[str, Any]) -> Response:
    first = parcels[0]["reservation_code"]
    facts: DeliveryNoteFacts = read(
        lambda session: delivery_note(
            session,
            caller=caller(),
            parcels=parcels,
            handover=asked["handover"],
            is_cold=asked["is_cold"],
            now=now(),
            address=f"{runtime().public_url}/v1/reservations/{first}",
        )
    )
    from service.sheets.delivery_note import render_delivery_note  # noqa: PLC0415 -- slow import, few print

    file = render_delivery_note(facts, paper=asked["paper"])
    return send_pdf(file, f"{first}-delivery-note.pdf")
