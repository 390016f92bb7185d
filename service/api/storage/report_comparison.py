"""Two lab reports on one lot beside each other, over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    READING,
    Blueprint,
    json_response,
)
from service.api.fields import AnswerBody, Code, EstimateBody, Query
from service.errors import InvalidRequest
from service.request_context import caller, now, read
from service.usecases.goods.lab_reports import compare_two_reports

bp = Blueprint("report_comparison", __name__, url_prefix="/v1/lots", description="Two reports on one lot")


class ComparisonQuery(Query):
    """The other report."""

    with_ = Code(data_key="with", required=True)


class AgreementAnswer(AnswerBody):
    """What the later report should read, were the earlier one true; 2.5th to 97.5th percentile."""

    expected = ma.fields.Nested(EstimateBody, required=True)
    difference_percent = ma.fields.Float(required=True)
    standard_score = ma.fields.Float(required=True)
    is_explained = ma.fields.Boolean(required=True)


class FigureComparisonAnswer(AnswerBody):
    """One figure of both reports, each as is."""

    name = ma.fields.String(required=True)
    first = ma.fields.Float(required=True, allow_none=True)
    second = ma.fields.Float(required=True, allow_none=True)
    first_method = ma.fields.String(required=True, allow_none=True)
    second_method = ma.fields.String(required=True, allow_none=True)
    agreement = ma.fields.Nested(AgreementAnswer, required=True, allow_none=True)
    words = ma.fields.String(required=True)


class ReportComparisonAnswer(AnswerBody):
    """Two reports, the earlier sampled one first."""

    lot_code = ma.fields.String(required=True)
    first = ma.fields.String(required=True)
    second = ma.fields.String(required=True)
    days_between = ma.fields.Integer(required=True)
    figures = ma.fields.List(ma.fields.Nested(FigureComparisonAnswer), required=True)
    assumptions = ma.fields.List(ma.fields.String(), required=True)
    words = ma.fields.String(required=True)


ANSWER_SCHEMA = ReportComparisonAnswer()


@bp.route("/<code>/lab-reports/<report_code>/comparison")
@bp.arguments(ComparisonQuery, location="query")
@bp.response(200, ReportComparisonAnswer)
@bp.refuses(*READING, InvalidRequest)
def get_report_comparison(asked: dict[str, Any], code: str, report_code: str) -> Response:
    """Whether two reports differ by more than laboratories, samples and storage explain"""
    pair = (report_code, asked["with_"])
    compared = read(
        lambda session: compare_two_reports(session, code, reports=pair, caller=caller(), now=now())
    )
    return json_response(ANSWER_SCHEMA.dump(compared))
