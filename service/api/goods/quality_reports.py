"""Physical quality of lots, over JSON."""

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
from service.api.fields import AnswerBody, Body, Choice, Code, Day, Instant, Number, Percent, Text, Whole
from service.errors import (
    IllegalStep,
    ImpossibleReport,
    InvalidRequest,
    NotAllowed,
    OutOfRange,
    TokenNeeded,
)
from service.market.goods.quality_reports import DRAWN_BY
from service.reference.cone_classes import ConeClass
from service.request_context import caller, now, read
from service.science.sorting import LARGEST_SAMPLE_G, LEAST_SAMPLE_G, MOST_CONES
from service.usecases.goods.quality_reports import (
    file_quality_report,
    list_cone_classes,
    list_quality_reports,
    set_cone_classes,
)

bp = Blueprint(
    "quality_reports", __name__, url_prefix="/v1", description="Seeds, leaf and stem, waste, sorted cones"
)
CLASS_CODE = r"^[a-z][a-z0-9_]{0,39}$"
PART_G = (0, LARGEST_SAMPLE_G)


class ConeSortBody(Body):
    """Grams of the sample's cones by class; `GET /v1/cone-classes` names the classes."""

    masses_g = ma.fields.Dict(
        keys=ma.fields.String(validate=ma.validate.Regexp(CLASS_CODE)),
        values=Number(*PART_G),
        required=True,
        validate=ma.validate.Length(1, 20),
    )
    cones_counted = Whole(
        1,
        MOST_CONES,
        load_default=None,
        allow_none=True,
        metadata={
            "description": "Cones in the whole sample; without it their number is reckoned from the mass"
        },
    )


class QualityReportBody(Body):
    """What was measured: percentages by mass, or the grams they are reckoned from."""

    measured_by = Text(longest=120, required=True)
    drawn_by = Choice(DRAWN_BY, required=True)
    sampled_on = Day(required=True)
    method_note = Text(longest=300, load_default=None, allow_none=True)
    sample_g = Number(LEAST_SAMPLE_G, LARGEST_SAMPLE_G, load_default=None, allow_none=True)
    seeds_g = Number(*PART_G, load_default=None, allow_none=True)
    leaf_and_stem_g = Number(*PART_G, load_default=None, allow_none=True)
    waste_g = Number(*PART_G, load_default=None, allow_none=True)
    seed_percent = Percent(load_default=None, allow_none=True)
    leaf_and_stem_percent = Percent(load_default=None, allow_none=True)
    waste_percent = Percent(load_default=None, allow_none=True)
    cone_sort = ma.fields.Nested(ConeSortBody, load_default=None, allow_none=True)
    corrects = Code(load_default=None, allow_none=True)
    reason = Text(longest=500, load_default=None, allow_none=True)

    @ma.validates_schema
    def _says_something(self, given: dict[str, Any], **_kw: Any) -> None:
        measured = [name for name in self.fields if name.endswith(("_percent", "s_g", "stem_g", "waste_g"))]
        if given.get("cone_sort") is None and all(given.get(name) is None for name in measured):
            raise ma.ValidationError(
                "Give a percentage, the grams of a part, or sorted cones.", "seed_percent"
            )


class ConeMassAnswer(AnswerBody):
    """Grams in one class, as the class was called that day."""

    code = ma.fields.String(required=True)
    name = ma.fields.String(required=True)
    mass_g = Number(*PART_G, required=True)


class QualityReportAnswer(AnswerBody):
    """A report as it was written; `corrected_by` names the one that took its place."""

    code = ma.fields.String(required=True)
    measured_by = ma.fields.String(required=True)
    drawn_by = ma.fields.String(required=True)
    sampled_on = ma.fields.Date(required=True)
    method_note = ma.fields.String(allow_none=True)
    sample_g = Number(*PART_G, allow_none=True)
    seeds_g = Number(*PART_G, allow_none=True)
    leaf_and_stem_g = Number(*PART_G, allow_none=True)
    waste_g = Number(*PART_G, allow_none=True)
    seed_percent = Percent(allow_none=True)
    leaf_and_stem_percent = Percent(allow_none=True)
    waste_percent = Percent(allow_none=True)
    cones = ma.fields.List(ma.fields.Nested(ConeMassAnswer), required=True)
    cones_counted = ma.fields.Integer(allow_none=True)
    carried_from = ma.fields.String(
        allow_none=True, metadata={"description": "The report of the whole that a part carries"}
    )
    corrects = ma.fields.String(allow_none=True)
    reason = ma.fields.String(allow_none=True)
    corrected_by = ma.fields.String(allow_none=True)
    filed_at = Instant(required=True)
    filed_by = ma.fields.String(required=True)


class QualityReportsAnswer(AnswerBody):
    """All reports on a lot, oldest first."""

    items = ma.fields.List(ma.fields.Nested(QualityReportAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)


class ConeClassBody(Body):
    """A class of cones."""

    code = ma.fields.String(required=True, validate=ma.validate.Regexp(CLASS_CODE))
    name = Text(longest=60, required=True)
    words = Text(longest=200, load_default=None, allow_none=True)

    @ma.post_load
    def as_fact(self, given: dict[str, Any], **_kw: Any) -> ConeClass:
        """Give the fact."""
        return ConeClass(**{**given, "words": given["words"] or ""})


class ConeClassesBody(Body):
    """All classes, in the order in which they are shown."""

    classes = ma.fields.List(
        ma.fields.Nested(ConeClassBody), required=True, validate=ma.validate.Length(2, 20)
    )

    @ma.validates_schema
    def _each_once(self, given: dict[str, Any], **_kw: Any) -> None:
        codes = [one.code for one in given.get("classes", ())]
        if len(set(codes)) < len(codes):
            raise ma.ValidationError("Each code stands once.", "classes")


class ConeClassAnswer(AnswerBody):
    """A class of cones."""

    code = ma.fields.String(required=True)
    name = ma.fields.String(required=True)
    words = ma.fields.String(required=True)


class ConeClassesAnswer(AnswerBody):
    """The classes that stand."""

    items = ma.fields.List(ma.fields.Nested(ConeClassAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)


ANSWER_SCHEMA, CLASS_SHOWN = QualityReportAnswer(), ConeClassAnswer()


@bp.route("/lots/<code>/quality-reports", methods=["POST"])
@bp.arguments(QualityReportBody)
@bp.response(201, QualityReportAnswer)
@bp.refuses(*CHANGING, ImpossibleReport, OutOfRange, IllegalStep)
@bp.repeatable
def post_quality_report(asked: dict[str, Any], code: str) -> Response:
    """File seeds, leaf and stem, waste or sorted cones of a lot, or correct a report with a reason"""

    return creation_response(
        lambda session: file_quality_report(session, code, caller=caller(), asked=asked, now=now()),
        ANSWER_SCHEMA.dump,
        headers=lambda _: {"Location": f"/v1/lots/{code}/quality-reports"},
    )


@bp.route("/lots/<code>/quality-reports")
@bp.response(200, QualityReportsAnswer)
@bp.refuses(*READING)
def get_quality_reports(code: str) -> Response:
    """The reports of physical quality on a lot, with those that were corrected"""
    found = read(lambda session: list_quality_reports(session, code, caller=caller(), now=now()))
    return json_response({"items": ANSWER_SCHEMA.dump(found, many=True), "next": None})


@bp.route("/cone-classes")
@bp.response(200, ConeClassesAnswer)
def get_cone_classes() -> Response:
    """The classes into which cones are sorted here"""
    found = read(list_cone_classes)
    return json_response({"items": CLASS_SHOWN.dump(found, many=True), "next": None})


@bp.route("/cone-classes", methods=["POST"])
@bp.arguments(ConeClassesBody)
@bp.response(201, ConeClassesAnswer)
@bp.refuses(TokenNeeded, NotAllowed, InvalidRequest)
@bp.repeatable
def post_cone_classes(asked: dict[str, Any]) -> Response:
    """Let the region sort into these classes from now on; earlier reports keep theirs"""

    return creation_response(
        lambda session: set_cone_classes(session, caller=caller(), classes=asked["classes"], now=now()),
        lambda classes: {"items": CLASS_SHOWN.dump(classes, many=True), "next": None},
    )
