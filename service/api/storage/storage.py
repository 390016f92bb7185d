"""What storage leaves of a lot, over JSON."""

from datetime import date
from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    READING,
    Blueprint,
    json_response,
)
from service.api.fields import AnswerBody, Choice, Day, Number, Percent, Query, estimate, facts, lines
from service.api.goods.lot_schemas import LeadCorrectionAnswer
from service.errors import FigureMissing, InvalidRequest, NoStorageModel, OutOfRange
from service.market.goods.lots import PACKINGS
from service.market.storage.storage import StorageOutlook, StoragePlan
from service.request_context import caller, now, read, today
from service.science.storage_index import BASELINE_RANGE
from service.usecases.storage.storage import storage_of_lot

bp = Blueprint("storage", __name__, url_prefix="/v1/lots", description="What storage leaves of a lot")


class StorageQuery(Query):
    """The day, and what a buyer will do until then; default: as the lot is stored now."""

    on = Day(metadata={"description": "Default today; not before the sampling"})
    from_ = Day(data_key="from", metadata={"description": "From when the plan counts; default today"})
    kept_at_c = Number(-30, 40, in_query=True)
    packing = Choice(PACKINGS, metadata={"description": "Default: the packing stays as it is"})
    baseline_index = Number(
        *BASELINE_RANGE,
        in_query=True,
        metadata={"description": "Hop Storage Index of this lot when fresh; default the published 0.25"},
    )
    baseline = Choice(
        ("published", "earliest_report"),
        metadata={"description": "earliest_report: the index of the lot's own earliest report"},
    )

    @ma.validates_schema
    def baseline_is_one(self, asked: dict[str, Any], **_kw: Any) -> None:
        """A baseline is given, or one is chosen."""
        if "baseline" in asked and "baseline_index" in asked:
            raise ma.ValidationError("Give baseline_index, or choose a baseline; not both.", "baseline")

    @ma.validates_schema
    def plan_is_whole(self, asked: dict[str, Any], **_kw: Any) -> None:
        """A plan says at what temperature; the packing stays unless it names one."""
        if "kept_at_c" not in asked and ("from_" in asked or "packing" in asked):
            raise ma.ValidationError("A plan gives kept_at_c.", "kept_at_c")


class BaselineAnswer(AnswerBody):
    """The index of the fresh lot, from which the loss of resins is counted."""

    index = Number(*BASELINE_RANGE, required=True)
    report = ma.fields.String(required=True, allow_none=True)
    words = ma.fields.String(required=True)


class LeftAnswer(AnswerBody):
    """What is left."""

    alpha_percent = estimate(required=True)
    hop_storage_index = estimate(required=True, allow_none=True)


class AheadAnswer(AnswerBody):
    """Some days after the day asked for: the package left closed, or opened on that day and kept open."""

    days = ma.fields.Integer(required=True)
    on = ma.fields.Date(required=True)
    closed = ma.fields.Nested(LeftAnswer, required=True)
    opened = ma.fields.Nested(LeftAnswer, required=True)


class RateLearningAnswer(AnswerBody):
    """The lot's own rate of loss, learnt from repeat analyses: prior, evidence, result; 1/day at 20 °C, unprotected."""

    quantity = ma.fields.String(required=True)
    reports = lines(required=True)
    packings = lines(required=True, metadata={"description": "In these, rate and packing are known together"})
    prior_per_day_at_20_c = estimate(required=True)
    evidence_per_day_at_20_c = Number(
        -1000,
        1000,
        required=True,
        metadata={"description": "By the reports alone; negative where a later one is higher"},
    )
    evidence_sd_per_day_at_20_c = Number(0, 1000, required=True)
    result_per_day_at_20_c = estimate(required=True)
    result_in_other_packings_per_day_at_20_c = estimate(required=True)
    is_surprising = ma.fields.Boolean(required=True)


class TemperatureHistoryAnswer(AnswerBody):
    """What loggers saw between the sampling and the day; elsewhere the stated temperatures count."""

    files = lines(required=True)
    first_day = ma.fields.String(required=True)
    last_day = ma.fields.String(required=True)
    logged_days = Number(0, 1e6, required=True)
    stated_days = Number(0, 1e6, required=True)
    effective_days_at_20_c = Number(0, 1e6, required=True)
    coldest_c = Number(-30, 40, required=True)
    hottest_c = Number(-30, 40, required=True)
    days_reaching_above_20_c = ma.fields.Integer(required=True)


class StorageAnswer(AnswerBody):
    """An estimate of what is left, with its method, inputs and assumptions."""

    lot_code = ma.fields.String(required=True)
    on = ma.fields.Date(required=True)
    alpha_percent = estimate(required=True)
    alpha_loss_percent = estimate(required=True)
    beta_percent = estimate(allow_none=True)
    hop_storage_index = estimate(allow_none=True)
    resin_loss_percent = Percent(allow_none=True)
    resin_loss_clamped = ma.fields.Boolean(
        required=True,
        metadata={"description": "The index lies under the baseline: a negative loss is shown as 0"},
    )
    baseline = ma.fields.Nested(BaselineAnswer, required=True)
    ahead = ma.fields.List(ma.fields.Nested(AheadAnswer), required=True)
    rate_learning = ma.fields.Nested(RateLearningAnswer, required=True, allow_none=True)
    not_learnt_from = lines(required=True)
    temperature_history = ma.fields.Nested(TemperatureHistoryAnswer, required=True, allow_none=True)
    lead_correction = ma.fields.Nested(LeadCorrectionAnswer, required=True, allow_none=True)
    oil = ma.fields.String(
        required=True, metadata={"description": "Which way oil goes, in words; no rate is published"}
    )
    report = ma.fields.String(required=True)
    method = ma.fields.String(required=True)
    inputs = facts(required=True)
    assumptions = lines(required=True)
    cautions = lines(required=True)
    sources = lines(required=True)


ANSWER_SCHEMA = StorageAnswer()


@bp.route("/<code>/storage")
@bp.arguments(StorageQuery, location="query")
@bp.response(200, StorageAnswer)
@bp.refuses(*READING, InvalidRequest, NoStorageModel, FigureMissing, OutOfRange)
def get_storage(asked: dict[str, Any], code: str) -> Response:
    """Estimate what storage leaves of alpha, beta and the Hop Storage Index on a day"""
    outlook = read(
        lambda session: storage_of_lot(
            session,
            code,
            caller=caller(),
            on=asked.get("on"),
            plan=_plan(asked, today()),
            baseline_index=asked.get("baseline_index"),
            baseline_of_report=asked.get("baseline") == "earliest_report",
            now=now(),
        )
    )
    return json_response(storage_body(outlook))


def _plan(asked: dict[str, Any], day: date) -> StoragePlan | None:
    if "kept_at_c" not in asked:
        return None
    return StoragePlan(
        from_on=asked.get("from_") or day, kept_at_c=asked["kept_at_c"], packing=asked.get("packing")
    )


def storage_body(outlook: StorageOutlook) -> Any:
    """An outlook as plain JSON."""
    return ANSWER_SCHEMA.dump(outlook)
