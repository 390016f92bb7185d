"""Temperature logger files of a lot: text/csv in, a summary out."""

import hashlib
from typing import Any

import marshmallow as ma
from flask import Response, request
from werkzeug.exceptions import BadRequest, UnsupportedMediaType

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    json_answer,
    json_response,
    respond,
)
from service.api.fields import AnswerBody, Body, Code, Instant, Number, Query, Text
from service.errors import (
    AlreadyExists,
    IllegalStep,
    OutOfRange,
    UnreadableReadings,
)
from service.market.goods.temperature_logs import TemperatureLog
from service.market.people.access import require_known
from service.market.storage.log_filing import read_file
from service.request_context import Answer, caller, create, now, read
from service.usecases.storage.temperature_readings import (
    file_readings,
    list_readings,
    show_readings,
    take_readings_back,
)

bp = Blueprint(
    "temperature-readings", __name__, url_prefix="/v1/lots", description="What a logger beside a lot read"
)
CSV = "text/csv"
# A reading every ten minutes makes some 1.5 MB a year; this is room for several.
FILE_BYTES_MAX = 8_000_000
# The BOMs of UTF-16, which spreadsheets write as "Unicode text".
UTF_16 = (b"\xff\xfe", b"\xfe\xff")


class ReadingsQuery(Query):
    """What goes with a file: where the logger lay, from when a silence is a gap, which file it corrects and why."""

    place = Text(
        longest=120, metadata={"description": "Where the logger lay, such as: in the core of bale 14"}
    )
    gap_hours = Number(
        0.001, 100_000, in_query=True, metadata={"description": "Default three usual intervals"}
    )
    corrects = Code(metadata={"description": "The file in whose place this one stands"})
    reason = Text(longest=500, metadata={"description": "Why it is corrected"})


class WithdrawnBody(Body):
    """Why a file is taken back."""

    reason = Text(longest=500, required=True)


class ReadingsAnswer(AnswerBody):
    """One file, summed up; moments are the logger's own clock, in UTC (Z) where the file names its offset."""

    code = ma.fields.String(required=True)
    place = ma.fields.String(required=True, allow_none=True)
    file_sha256 = ma.fields.String(required=True, metadata={"description": "Of the file as it was sent"})
    first_reading = ma.fields.String(required=True)
    last_reading = ma.fields.String(required=True)
    readings = ma.fields.Integer(required=True)
    covered_days = Number(
        0,
        7306,
        required=True,
        metadata={"description": "What counts: whole days before the one it was filed on, without the gaps"},
    )
    mean_c = Number(-30, 40, required=True)
    coldest_c = Number(-30, 40, required=True)
    hottest_c = Number(-30, 40, required=True)
    readings_above_20_c = ma.fields.Integer(
        required=True, metadata={"description": "Outside of the published rule; counted all the same"}
    )
    days_above_20_c = Number(0, 7306, required=True)
    gaps_count = ma.fields.Integer(required=True)
    gaps_hours = Number(0, 200_000, required=True)
    gaps = ma.fields.List(
        ma.fields.Dict(keys=ma.fields.String()), required=True, metadata={"description": "The fifty longest"}
    )
    duplicates = ma.fields.Integer(required=True)
    out_of_order = ma.fields.Integer(required=True)
    rows_without_temperature_count = ma.fields.Integer(required=True)
    rows_without_temperature = ma.fields.List(
        ma.fields.Integer(), required=True, metadata={"description": "Rows of the file, the first twenty"}
    )
    corrects = ma.fields.String(required=True, allow_none=True)
    reason = ma.fields.String(required=True, allow_none=True)
    corrected_by = ma.fields.String(required=True, allow_none=True)
    taken_back_at = Instant(required=True, allow_none=True)
    taken_back_by = ma.fields.String(required=True, allow_none=True)
    taken_back_reason = ma.fields.String(required=True, allow_none=True)
    filed_at = Instant(required=True)
    filed_by = ma.fields.String(required=True)


class LoggedDayAnswer(AnswerBody):
    """One day of the logger's clock."""

    day = ma.fields.Date(required=True)
    covered_fraction = Number(0, 1.000001, required=True)
    mean_c = Number(-30, 40, required=True)
    coldest_c = Number(-30, 40, required=True)
    hottest_c = Number(-30, 40, required=True)
    effective_days_at_20_c = Number(0, 3, required=True)
    effective_days_above_20_c = Number(0, 3, required=True)


class ReadingsDaysAnswer(ReadingsAnswer):
    """One file with the days that count."""

    days = ma.fields.List(ma.fields.Nested(LoggedDayAnswer), attribute="by_day", required=True)


class ReadingsList(AnswerBody):
    """All logger files of a lot, oldest first."""

    items = ma.fields.List(ma.fields.Nested(ReadingsAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)


ANSWER_SCHEMA, WITH_DAYS = ReadingsAnswer(), ReadingsDaysAnswer()


@bp.route("/<code>/temperature-readings", methods=["POST"])
@bp.arguments(ReadingsQuery, location="query")
@bp.response(201, ReadingsAnswer)
@bp.refuses(*CHANGING, UnreadableReadings, OutOfRange, AlreadyExists, IllegalStep)
@bp.doc(
    requestBody={
        "required": True,
        "description": "The logger's file: a header with a time and a temperature column that names its unit",
        "content": {CSV: {"schema": {"type": "string"}}},
    }
)
@bp.repeatable
def post_temperature_readings(asked: dict[str, Any], code: str) -> Response:
    """File a temperature logger's file on a lot"""
    # Reading takes a moment: not for nobody, and not while a lot is locked.
    require_known(caller())
    request.max_content_length = FILE_BYTES_MAX
    raw = _body()
    file = read_file(_text(raw), gap_hours=asked.get("gap_hours"), sha256=hashlib.sha256(raw).hexdigest())

    def work(session: Any) -> Answer:
        log = file_readings(
            session,
            code,
            caller=caller(),
            file=file,
            place=asked.get("place"),
            corrects=asked.get("corrects"),
            reason=asked.get("reason"),
            now=now(),
        )
        return json_answer(
            ANSWER_SCHEMA.dump(log), headers={"Location": f"/v1/lots/{code}/temperature-readings/{log.code}"}
        )

    return respond(create(work))


def _body() -> bytes:
    if request.mimetype != CSV:
        raise UnsupportedMediaType("Send the file as text/csv.")
    return request.get_data(cache=True)


def _text(raw: bytes) -> str:
    """The file as text: UTF-8, UTF-16 with its mark, else what older loggers write for the degree sign."""
    if raw.startswith(UTF_16):
        try:
            return raw.decode("utf-16")
        except UnicodeDecodeError:
            raise BadRequest("The file begins as UTF-16 and does not go on as such.") from None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace")


@bp.route("/<code>/temperature-readings")
@bp.response(200, ReadingsList)
@bp.refuses(*READING)
def get_temperature_readings(code: str) -> Response:
    """What is kept of a lot's logger files"""
    logs = read(lambda session: list_readings(session, code, caller=caller(), now=now()))
    return json_response({"items": ANSWER_SCHEMA.dump(logs, many=True), "next": None})


@bp.route("/<code>/temperature-readings/<log_code>")
@bp.response(200, ReadingsDaysAnswer)
@bp.refuses(*READING)
def get_temperature_readings_file(code: str, log_code: str) -> Response:
    """One logger file of a lot, day by day"""
    log = read(lambda session: show_readings(session, code, log_code=log_code, caller=caller(), now=now()))
    return json_response(WITH_DAYS.dump(log))


@bp.route("/<code>/temperature-readings/<log_code>/reversal", methods=["POST"])
@bp.arguments(WithdrawnBody)
@bp.response(200, ReadingsAnswer)
@bp.refuses(*CHANGING, IllegalStep)
@bp.repeatable
def post_temperature_readings_reversal(asked: dict[str, Any], code: str, log_code: str) -> Response:
    """Take a logger's file back, as when it was another lot's; it stays in the books and drives nothing"""

    def work(session: Any) -> Answer:
        log: TemperatureLog = take_readings_back(
            session, code, log_code=log_code, caller=caller(), reason=asked["reason"], now=now()
        )
        return json_answer(ANSWER_SCHEMA.dump(log), status=200)

    return respond(create(work))
