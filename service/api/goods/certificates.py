"""Certificate files, over HTTP."""

from typing import Any

import marshmallow as ma
from flask import Response, request

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    json_answer,
    json_response,
    respond,
)
from service.api.fields import AnswerBody, Instant
from service.errors import UnfitFile
from service.market.goods.certificates import MIME_OF
from service.request_context import Answer, caller, create, now, read, runtime
from service.usecases.goods.certificates import attach_certificate, list_certificates, read_certificate

bp = Blueprint(
    "certificates", __name__, url_prefix="/v1/lots", description="Certificate files beside lab reports"
)
# Whatever a file holds, no browser runs it in this house's name.
GUARDED = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "sandbox; default-src 'none'",
    "Cache-Control": "private, no-cache",
}


class CertificateAnswer(AnswerBody):
    """A file beside a report."""

    sha256 = ma.fields.String(required=True)
    kind = ma.fields.String(required=True)
    size_bytes = ma.fields.Integer(required=True)
    added_at = Instant(required=True)
    added_by = ma.fields.String(required=True)


class CertificateList(AnswerBody):
    """All files beside a report."""

    items = ma.fields.List(ma.fields.Nested(CertificateAnswer), required=True)


ANSWER_SCHEMA = CertificateAnswer()
FILES = {kind: {"schema": {"type": "string", "format": "binary"}} for kind in MIME_OF.values()}


def limit_this_body() -> None:
    """A certificate may be larger than any JSON body."""
    request.max_content_length = runtime().file_limit_bytes


@bp.route("/<code>/lab-reports/<report_code>/files", methods=["POST"])
@bp.response(201, CertificateAnswer)
@bp.refuses(*CHANGING, UnfitFile)
@bp.repeatable
@bp.doc(requestBody={"required": True, "content": FILES})
def post_certificate(code: str, report_code: str) -> Response:
    """Put the certificate itself beside a report: the body is the PDF, PNG or JPEG file"""
    limit_this_body()
    content = request.get_data(cache=True)

    def work(session: Any) -> Answer:
        file = attach_certificate(
            session,
            code,
            report_code,
            content,
            caller=caller(),
            directory=runtime().files_dir,
            now=now(),
        )
        address = f"/v1/lots/{code}/lab-reports/{report_code}/files/{file.sha256}"
        return json_answer(ANSWER_SCHEMA.dump(file), headers={"Location": address})

    return respond(create(work))


@bp.route("/<code>/lab-reports/<report_code>/files")
@bp.response(200, CertificateList)
@bp.refuses(*READING)
def get_certificates(code: str, report_code: str) -> Response:
    """The files beside a report"""
    found = read(lambda session: list_certificates(session, code, report_code, caller=caller(), now=now()))
    return json_response({"items": ANSWER_SCHEMA.dump(found, many=True)})


@bp.route("/<code>/lab-reports/<report_code>/files/<sha256>")
@bp.response(200, content_type="application/octet-stream")
@bp.refuses(*READING)
def get_certificate(code: str, report_code: str, sha256: str) -> Response:
    """A file as it was handed in; always to be saved, never shown by the browser itself"""
    file, content = read(
        lambda session: read_certificate(
            session,
            code,
            report_code,
            sha256,
            caller=caller(),
            directory=runtime().files_dir,
            now=now(),
        )
    )
    name = f"{file.lot_code}-{file.report_code}.{file.kind}"
    return Response(
        content,
        content_type=MIME_OF[file.kind],
        headers={
            **GUARDED,
            "ETag": f'"{file.sha256}"',
            "Content-Disposition": f'attachment; filename="{name}"',
        },
    )
