"""Lab reports on a lot, over JSON."""

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
from service.api.fields import (
    AnswerBody,
    Body,
    Choice,
    Code,
    Day,
    Flag,
    Instant,
    Number,
    Text,
    Whole,
)
from service.errors import (
    ConfirmationNeeded,
    IllegalStep,
    ImpossibleReport,
    OutOfRange,
)
from service.market.goods.lab_quantities import LAB_NAMES, LAB_QUANTITIES
from service.market.goods.lab_reports import BASES, DRAWN_BY
from service.reference.methods import GROUPS as METHOD_GROUPS
from service.request_context import caller, now, read
from service.usecases.goods.lab_reports import file_report, list_reports

bp = Blueprint(
    "lab-reports", __name__, url_prefix="/v1/lots", description="Lab reports: never edited, at most corrected"
)
# Wide enough for the slip of a pen, so that it is answered with what cannot be rather than with a range.
ANY = (0, 1000)
SHARE_NAME = r"^[a-z][a-z0-9_]{1,39}$"


class DilutionBody(Body):
    """The volumes of the dilutions of ASBC Hops-6."""

    extract_ml = Number(0, 10_000, above=True, required=True)
    sample_g = Number(0, 1000, above=True, required=True)
    volume_a_ml = Number(0, 10_000, above=True, required=True)
    volume_b_ml = Number(0, 10_000, above=True, required=True)
    aliquot_extract_ml = Number(0, 1000, above=True, required=True)
    aliquot_a_ml = Number(0, 1000, above=True, required=True)


class AbsorbanceBody(Body):
    """Three absorbances of one dilution in a 1 cm cell, and how far it was diluted."""

    a275 = Number(0, 10, required=True)
    a325 = Number(0, 10, above=True, required=True)
    a355 = Number(0, 10, required=True)
    dilution_factor = Number(0, 1000, above=True)
    dilution = ma.fields.Nested(DilutionBody)


class _ReportBodyHead(Body):
    """What stands before the figures."""

    grower_code = Code(party=True, load_default=None, allow_none=True)
    brewery_code = Code(party=True, load_default=None, allow_none=True)
    laboratory = Text(longest=120, required=True)
    drawn_by = Choice(DRAWN_BY, required=True)
    sampled_on = Day(required=True)
    analysed_on = Day(required=True)
    packages_cored = Whole(1, 100_000, load_default=None, allow_none=True)
    basis = Choice(BASES, load_default="as_is")


class LabReportBody(
    _ReportBodyHead.from_dict(  # type: ignore[misc]
        {
            quantity.name: Number(
                0,
                quantity.body_max,
                **({"above": True} if quantity.is_above_zero else {}),
                load_default=None,
                allow_none=True,
            )
            for quantity in LAB_QUANTITIES
        }
    )
):
    """A report, as the laboratory wrote it."""

    oil_shares_percent = ma.fields.Dict(
        keys=ma.fields.String(validate=ma.validate.Regexp(SHARE_NAME)),
        values=Number(*ANY),
        load_default=None,
        allow_none=True,
        validate=ma.validate.Length(1, 40),
    )
    oil_shares_basis = Choice(("peak_area", "mass"), load_default=None, allow_none=True)
    absorbance = ma.fields.Nested(AbsorbanceBody, load_default=None, allow_none=True)
    uncertainty = ma.fields.Dict(
        keys=ma.fields.String(validate=ma.validate.OneOf(LAB_NAMES)),
        values=Number(0, 100, above=True),
        load_default=None,
        allow_none=True,
        metadata={
            "description": "One standard deviation of a figure as the laboratory states it, in its unit"
        },
    )
    methods = ma.fields.Dict(
        keys=ma.fields.String(validate=ma.validate.OneOf(METHOD_GROUPS)),
        values=Text(longest=40),
        load_default=dict,
    )
    method_note = Text(longest=300, load_default=None, allow_none=True)
    corrects = Code(load_default=None, allow_none=True)
    reason = Text(longest=500, load_default=None, allow_none=True)
    confirmed = Flag(load_default=False)
    before_pelletizing = Flag(
        load_default=False,
        metadata={
            "description": "On a lot of pellets: the sample was of the cones; shown, never the pellets' figures"
        },
    )


class _ReportAnswerHead(AnswerBody):
    """What stands before the figures."""

    code = ma.fields.String(required=True)
    laboratory = ma.fields.String(required=True)
    drawn_by = ma.fields.String(required=True)
    sampled_on = ma.fields.Date(required=True)
    analysed_on = ma.fields.Date(required=True)
    packages_cored = ma.fields.Integer(allow_none=True)
    basis = ma.fields.String(required=True)


class LabReportAnswer(
    _ReportAnswerHead.from_dict(  # type: ignore[misc]
        {quantity.name: Number(0, quantity.answer_max, allow_none=True) for quantity in LAB_QUANTITIES}
    )
):
    """A report as it was written; `corrected_by` names the one that took its place."""

    oil_shares_percent = ma.fields.Dict(keys=ma.fields.String(), values=Number(0, 100), allow_none=True)
    oil_shares_basis = ma.fields.String(allow_none=True)
    absorbance = ma.fields.Dict(keys=ma.fields.String(), allow_none=True)
    uncertainty = ma.fields.Dict(keys=ma.fields.String(), values=Number(0, 100), allow_none=True)
    methods = ma.fields.Dict(keys=ma.fields.String(), values=ma.fields.String(), required=True)
    method_note = ma.fields.String(allow_none=True)
    corrects = ma.fields.String(allow_none=True)
    corrected_by = ma.fields.String(allow_none=True)
    reason = ma.fields.String(allow_none=True)
    confirmed = ma.fields.Boolean(required=True)
    before_pelletizing = ma.fields.Boolean(required=True)
    filed_at = Instant(required=True)
    filed_by = ma.fields.String(required=True)
    filed_for = ma.fields.String(required=True)


class LabReportList(AnswerBody):
    """All reports on a lot, oldest first."""

    items = ma.fields.List(ma.fields.Nested(LabReportAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)


ANSWER_SCHEMA = LabReportAnswer()


@bp.route("/<code>/lab-reports", methods=["POST"])
@bp.arguments(LabReportBody)
@bp.response(201, LabReportAnswer)
@bp.refuses(*CHANGING, ImpossibleReport, ConfirmationNeeded, OutOfRange, IllegalStep)
@bp.repeatable
def post_lab_report(asked: dict[str, Any], code: str) -> Response:
    """File a lab report on a lot"""

    return creation_response(
        lambda session: file_report(session, code, caller=caller(), asked=asked, now=now()),
        ANSWER_SCHEMA.dump,
        headers=lambda report: {"Location": f"/v1/lots/{code}/lab-reports"},
    )


@bp.route("/<code>/lab-reports")
@bp.response(200, LabReportList)
@bp.refuses(*READING)
def get_lab_reports(code: str) -> Response:
    """The reports on a lot, with those that were corrected"""
    reports = read(lambda session: list_reports(session, code, caller=caller(), now=now()))
    return json_response({"items": ANSWER_SCHEMA.dump(reports, many=True), "next": None})
