"""Samples for a laboratory, over JSON, and the slip that goes with one."""

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
from service.api.fields import AnswerBody, Body, Choice, Day, Instant, Query, Text, Whole
from service.api.pdf import PDF, send_pdf
from service.errors import (
    IllegalStep,
    NotAllowed,
    NotEnoughStock,
    OutOfRange,
)
from service.market.goods.submissions import SAMPLE_G_MAX, TESTS
from service.request_context import caller, now, read, runtime
from service.sheets.papers import PAPERS
from service.usecases.goods.submissions import list_submissions, slip_facts, submit_sample

bp = Blueprint("submissions", __name__, url_prefix="/v1/lots", description="Samples for a laboratory")


class SubmissionBody(Body):
    """A sample that is sent: how much, where to, and what is wanted of it."""

    mass_g = Whole(1, SAMPLE_G_MAX, required=True)
    sent_on = Day(required=True)
    laboratory = Text(longest=120, required=True)
    tests = ma.fields.List(Choice(TESTS), required=True, validate=ma.validate.Length(1, len(TESTS)))
    note = Text(longest=500, load_default=None, allow_none=True)


class SlipQuery(Query):
    """On which paper."""

    paper = Choice(tuple(PAPERS), load_default="a4")


class SubmissionAnswer(AnswerBody):
    """A sample that was sent; its grams are booked out of the lot."""

    code = ma.fields.String(required=True)
    lot_code = ma.fields.String(required=True)
    mass_g = ma.fields.Integer(required=True)
    sent_on = ma.fields.Date(required=True)
    laboratory = ma.fields.String(required=True)
    tests = ma.fields.List(ma.fields.String(), required=True)
    note = ma.fields.String(required=True, allow_none=True)
    booking_code = ma.fields.String(required=True, allow_none=True)
    made_at = Instant(required=True)
    made_by = ma.fields.String(required=True)


class SubmissionList(AnswerBody):
    """All samples of a lot that were sent, oldest first."""

    items = ma.fields.List(ma.fields.Nested(SubmissionAnswer), required=True)


ANSWER_SCHEMA = SubmissionAnswer()


@bp.route("/<code>/submissions", methods=["POST"])
@bp.arguments(SubmissionBody)
@bp.response(201, SubmissionAnswer)
@bp.refuses(*CHANGING, OutOfRange, IllegalStep, NotEnoughStock)
@bp.repeatable
def post_submission(asked: dict[str, Any], code: str) -> Response:
    """Send a sample to a laboratory: its grams are booked, and a slip is ready to print"""

    return creation_response(
        lambda session: submit_sample(session, code, caller=caller(), asked=asked, now=now()),
        ANSWER_SCHEMA.dump,
        headers=lambda sent: {"Location": f"/v1/lots/{code}/submissions/{sent.code}/slip.pdf"},
    )


@bp.route("/<code>/submissions")
@bp.response(200, SubmissionList)
@bp.refuses(*READING, NotAllowed)
def get_submissions(code: str) -> Response:
    """The samples of a lot that were sent, for its grower and the specialist"""
    found = read(lambda session: list_submissions(session, code, caller=caller(), now=now()))
    return json_response({"items": ANSWER_SCHEMA.dump(found, many=True)})


@bp.route("/<code>/submissions/<submission_code>/slip.pdf")
@bp.arguments(SlipQuery, location="query")
@bp.response(200, {"type": "string", "format": "binary"}, content_type=PDF)
@bp.refuses(*CHANGING)
def get_slip(asked: dict[str, Any], code: str, submission_code: str) -> Response:
    """The slip that goes with a sample, so that the result finds its lot"""
    from service.sheets.slip import render_slip  # noqa: PLC0415 -- slow import, and few calls print

    address = f"{runtime().public_url}/v1/lots/{code}"
    facts = read(
        lambda session: slip_facts(
            session, code, submission_code, caller=caller(), address=address, now=now()
        )
    )
    return send_pdf(render_slip(facts, paper=asked["paper"]), f"{code}-{submission_code}-slip.pdf")
