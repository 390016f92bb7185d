"""Offers for a request and plans of an allocation, as PDF."""

from typing import Any

from flask import Response

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
)
from service.api.fields import Choice, Query, Whole
from service.api.pdf import PDF, send_pdf
from service.errors import InvalidRequest
from service.market.matching.offers import LOTS_ON_AN_OFFER
from service.request_context import caller, now, read, runtime
from service.sheets.papers import PAPERS
from service.usecases.matching.matching import offer_for_request
from service.usecases.planning.allocations import show_allocation

bp = Blueprint("printed-plans", __name__, url_prefix="/v1", description="Offers and plans as PDF")
BINARY = {"type": "string", "format": "binary"}


class PrintQuery(Query):
    """On which paper."""

    paper = Choice(tuple(PAPERS), load_default="a4")


class OfferQuery(PrintQuery):
    """How many lots stand side by side."""

    lots = Whole(1, LOTS_ON_AN_OFFER, in_query=True, load_default=LOTS_ON_AN_OFFER)


@bp.route("/requests/<code>/offer.pdf")
@bp.arguments(OfferQuery, location="query")
@bp.response(200, BINARY, content_type=PDF)
@bp.refuses(*READING, InvalidRequest)
def get_offer(asked: dict[str, Any], code: str) -> Response:
    """The best matching lots of a request side by side, with reasons and cost; nothing is reserved"""
    facts = read(
        lambda session: offer_for_request(
            session,
            code,
            caller=caller(),
            now=now(),
            limit=asked["lots"],
            address=f"{runtime().public_url}/v1/requests/{code}/matches",
        )
    )
    from service.sheets.offer import render_offer  # noqa: PLC0415 -- slow import, and few calls print

    return send_pdf(render_offer(facts, paper=asked["paper"]), f"{code}-offer.pdf")


@bp.route("/allocations/<code>/plan.pdf")
@bp.arguments(PrintQuery, location="query")
@bp.response(200, BINARY, content_type=PDF)
@bp.refuses(*CHANGING)
def get_plan(asked: dict[str, Any], code: str) -> Response:
    """The plan of an allocation: who takes what from whom, by grower and stop"""
    allocation = read(lambda session: show_allocation(session, code, caller=caller()))
    from service.sheets.plan import render_plan  # noqa: PLC0415 -- slow import, and few calls print

    address = f"{runtime().public_url}/v1/allocations/{code}"
    return send_pdf(render_plan(allocation, url=address, paper=asked["paper"]), f"{code}-plan.pdf")
