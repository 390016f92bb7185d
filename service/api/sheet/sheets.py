"""Spec sheets over HTTP: the PDF, its issue, its verification."""

import hashlib
from typing import Any

import marshmallow as ma
from flask import Response, request
from werkzeug.exceptions import UnsupportedMediaType

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    creation_response,
    json_response,
)
from service.api.fields import AnswerBody, Body, Choice, Flag, Instant, Query
from service.api.pdf import PDF, send_pdf
from service.errors import InvalidRequest, TokenNeeded
from service.market.sheet.sheet_facts import STORAGES_C, LotSheetFacts
from service.request_context import caller, now, read, runtime
from service.sheets.papers import PAPERS
from service.usecases.sheet.sheets import issue_sheet, issued_file, preview_facts, verify_sheet

bp = Blueprint("sheets", __name__, url_prefix="/v1", description="Spec sheets: shown, issued, verified")
FILE_BYTES_MAX = 5_000_000


class SheetQuery(Query):
    """Which sheet."""

    preview = Flag(
        in_query=True, metadata={"description": "true: what it would say today, even if one was issued"}
    )
    paper = Choice(tuple(PAPERS), metadata={"description": "Of a preview; default a4"})
    kept_at = Choice(
        tuple(STORAGES_C),
        metadata={"description": "Of a preview: the one storage to come that is drawn; default all three"},
    )


class SheetBody(Body):
    """A revision asked for."""

    paper = Choice(tuple(PAPERS), load_default="a4")


class SheetAnswer(AnswerBody):
    """An issued revision."""

    lot_code = ma.fields.String(required=True)
    revision = ma.fields.Integer(required=True)
    issued_on = ma.fields.Date(required=True)
    issued_at = Instant(required=True)
    issued_by = ma.fields.String(required=True)
    facts_sha256 = ma.fields.String(required=True)
    file_sha256 = ma.fields.String(required=True)


class VerificationAnswer(AnswerBody):
    """Whether a fingerprint is that of the current sheet, of a superseded one, or of none."""

    status = ma.fields.String(required=True, validate=ma.validate.OneOf(("current", "superseded", "unknown")))
    sha256 = ma.fields.String(required=True)
    lot_code = ma.fields.String(attribute="sheet.lot_code")
    revision = ma.fields.Integer(attribute="sheet.revision")
    issued_on = ma.fields.Date(attribute="sheet.issued_on")
    current_revision = ma.fields.Integer(allow_none=True)


ISSUED = SheetAnswer()
VERIFIED = VerificationAnswer()


@bp.route("/lots/<code>/sheet.pdf")
@bp.arguments(SheetQuery, location="query")
@bp.response(200, {"type": "string", "format": "binary"}, content_type=PDF)
@bp.refuses(*READING, InvalidRequest)
def get_lot_sheet(asked: dict[str, Any], code: str) -> Response:
    """The lot's spec sheet: the latest issued one, else a preview that says so on its face"""
    who, moment = caller(), now()
    if not asked.get("preview") and not {"paper", "kept_at"} & asked.keys():
        issued = read(lambda session: issued_file(session, code, caller=who, now=moment))
        if issued is not None:
            return send_pdf(issued[1], f"{code}-r{issued[0]}.pdf")
    facts = read(
        lambda session: preview_facts(
            session, code, caller=who, now=moment, address=_address(code), kept_at=asked.get("kept_at")
        )
    )
    return send_pdf(_render(facts, asked.get("paper", "a4")), f"{code}-preview.pdf")


@bp.route("/lots/<code>/sheets", methods=["POST"])
@bp.arguments(SheetBody)
@bp.response(201, SheetAnswer)
@bp.refuses(*CHANGING)
@bp.repeatable
def post_lot_sheet(asked: dict[str, Any], code: str) -> Response:
    """Issue a revision of the lot's spec sheet, dated today"""

    return creation_response(
        lambda session: issue_sheet(
            session,
            code,
            caller=caller(),
            now=now(),
            address=_address(code),
            render=lambda facts: _render(facts, asked["paper"]),
        ),
        ISSUED.dump,
        headers=lambda sheet: {"Location": f"/v1/lots/{code}/sheet.pdf"},
    )


@bp.route("/sheets/<sha256>")
@bp.response(200, VerificationAnswer)
@bp.refuses(TokenNeeded)
def get_sheet_verification(sha256: str) -> Response:
    """Say whether a sheet's fingerprint, of the file or of its facts, is current, superseded or unknown"""
    return json_response(VERIFIED.dump(read(lambda session: verify_sheet(session, sha256=sha256.lower()))))


@bp.route("/sheet-verifications", methods=["POST"])
@bp.response(200, VerificationAnswer)
@bp.refuses(TokenNeeded)
@bp.doc(
    requestBody={
        "required": True,
        "description": "The sheet's file, at most 5 MB; it is read, compared and not kept",
        "content": {PDF: {"schema": {"type": "string", "format": "binary"}}},
    }
)
def post_sheet_verification() -> Response:
    """Say whether a file is the current sheet of a lot, a superseded one, or none of this service's"""
    request.max_content_length = FILE_BYTES_MAX
    if request.mimetype != PDF:
        raise UnsupportedMediaType("Send the file as application/pdf.")
    sha256 = hashlib.sha256(request.get_data(cache=False)).hexdigest()
    return json_response(VERIFIED.dump(read(lambda session: verify_sheet(session, sha256=sha256))))


def _render(facts: LotSheetFacts, paper: str) -> bytes:
    from service.sheets.lot_sheet import render_lot_sheet  # noqa: PLC0415 -- slow import, and few calls print

    return render_lot_sheet(facts, paper=paper)


def _address(code: str) -> str:
    return f"{runtime().public_url}/v1/lots/{code}"
