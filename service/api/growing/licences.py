"""Licences for protected cultivars, over JSON."""

import marshmallow as ma
from flask import Response

from service.api.contract import (
    CHANGING,
    READING,
    Blueprint,
    creation_response,
    json_response,
)
from service.api.fields import AnswerBody, Body, Day, Instant, Text, lines
from service.errors import IllegalStep, NotAllowed
from service.market.growing.licences import DeclareLicence
from service.reference.cautions import get_caution
from service.request_context import caller, now, read, write
from service.usecases.growing.licences import declare_licence, end_licence, list_licences

bp = Blueprint(
    "licences", __name__, url_prefix="/v1/growers", description="What growers declare about plant rights"
)


class LicenceBody(Body):
    """Whose licence, for which cultivar, under which number and until when."""

    command = DeclareLicence

    cultivar = Text(longest=80, required=True, metadata={"description": "Denomination or synonym"})
    licensor = Text(longest=120, required=True)
    number = Text(longest=80, required=True)
    valid_until = Day(
        load_default=None, allow_none=True, metadata={"description": "The last day; null: without an end"}
    )


class LicenceAnswer(AnswerBody):
    """A declaration; one that was taken back says when."""

    code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    cultivar = ma.fields.String(required=True)
    licensor = ma.fields.String(required=True)
    number = ma.fields.String(required=True)
    valid_until = ma.fields.Date(required=True, allow_none=True)
    declared_at = Instant(required=True)
    declared_by = ma.fields.String(required=True)
    ended_at = Instant(required=True, allow_none=True)
    ended_by = ma.fields.String(required=True, allow_none=True)


class DeclaredAnswer(LicenceAnswer):
    """A new declaration, and the grower's lots of that cultivar: none of them, if its name was mistyped."""

    lot_codes = ma.fields.List(ma.fields.String(), required=True)


class LicencesAnswer(AnswerBody):
    """Everything a grower declared, oldest first."""

    items = ma.fields.List(ma.fields.Nested(LicenceAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)
    cautions = lines(required=True)


ANSWER_SCHEMA = LicenceAnswer()


@bp.route("/<code>/licences", methods=["POST"])
@bp.arguments(LicenceBody)
@bp.response(201, DeclaredAnswer)
@bp.refuses(*CHANGING)
@bp.repeatable
def post_licence(asked: DeclareLicence, code: str) -> Response:
    """Declare a licence for a cultivar; all of the grower's lots of it show it"""

    return creation_response(
        lambda session: declare_licence(session, code, caller=caller(), asked=asked, now=now()),
        lambda made: {**ANSWER_SCHEMA.dump(made[0]), "lot_codes": list(made[1])},
        headers=lambda _: {"Location": f"/v1/growers/{code}/licences"},
    )


@bp.route("/<code>/licences")
@bp.response(200, LicencesAnswer)
@bp.refuses(*READING, NotAllowed)
def get_licences(code: str) -> Response:
    """Everything a grower declared, for the grower and the specialist"""
    found = read(lambda session: list_licences(session, code, caller=caller()))
    cautions = [get_caution("plant_rights").words]
    return json_response({"items": ANSWER_SCHEMA.dump(found, many=True), "next": None, "cautions": cautions})


@bp.route("/<code>/licences/<licence_code>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(*READING, NotAllowed, IllegalStep)
def delete_licence(code: str, licence_code: str) -> None:
    """Take a declaration back; it stays in the books, ended"""
    write(lambda session: end_licence(session, code, licence_code, caller=caller(), now=now()))
