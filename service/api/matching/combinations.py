"""Combinations over JSON: lots that together meet a request."""

from threading import BoundedSemaphore
from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    READING,
    Blueprint,
    json_response,
)
from service.api.fields import (
    AnswerBody,
    Body,
    Choice,
    Currency,
    Kilograms,
    Money,
    Number,
    Whole,
    estimate,
    lines,
)
from service.errors import InvalidRequest, Overloaded
from service.market.matching.combinations import AIMS
from service.request_context import caller, now, read
from service.usecases.matching.combinations import combine_for_request

bp = Blueprint(
    "combinations", __name__, url_prefix="/v1/requests", description="Lots that together meet a request"
)


class CombinationBody(Body):
    """What to aim at; without the others the request's own count."""

    aim = Choice(AIMS, load_default="cheapest")
    currency = Currency(
        load_default=None, allow_none=True, metadata={"description": "Prices are added up in one currency"}
    )
    lots_max = Whole(1, 1000, load_default=None, allow_none=True)
    parcel_kg_min = Kilograms(load_default=None, allow_none=True)
    seconds_max = Number(1, 15, load_default=5.0, metadata={"description": "How long to search"})


class CombinedParcelAnswer(AnswerBody):
    """A lot's part; `covers_percent` is its share of every delivery."""

    lot_code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    cultivar = ma.fields.String(required=True)
    form = ma.fields.String(required=True)
    mass_kg = Kilograms(required=True)
    covers_percent = Number(0, 1e6, required=True)
    score = Number(0, 1, required=True)
    alpha_percent_when_needed = estimate(required=True, allow_none=True)
    alpha_method = ma.fields.String(required=True, allow_none=True)
    distance_km = ma.fields.Integer(required=True)
    price_per_kg = Money(required=True, allow_none=True)
    currency = ma.fields.String(required=True, allow_none=True)
    amount = Money(required=True, allow_none=True)


class CombinedFiguresAnswer(AnswerBody):
    """The mix as a whole, by the mass of its parcels; null where a lot of it was not measured or priced."""

    mass_kg = Kilograms(required=True)
    lots = ma.fields.Integer(required=True)
    alpha_kg = Number(0, 1e9, required=True, allow_none=True)
    alpha_percent_when_needed = Number(0, 100, required=True, allow_none=True)
    hop_storage_index_when_needed = Number(0, 10, required=True, allow_none=True)
    oil_ml_per_100g = Number(0, 100, required=True, allow_none=True)
    moisture_percent = Number(0, 100, required=True, allow_none=True)
    score = Number(0, 1, required=True)
    distance_km_mean = Number(0, 21_000, required=True)
    amounts = ma.fields.Dict(
        keys=ma.fields.String(), values=Money(), required=True, metadata={"description": "By currency"}
    )
    by_agreement_kg = Kilograms(required=True)
    per_kg_alpha = Number(0, 1e12, required=True, allow_none=True)


class MixedLimitAnswer(AnswerBody):
    """A limit on the mix, and what the mix has."""

    limit = ma.fields.String(required=True)
    wanted = Number(0, 1e9, required=True)
    found = Number(0, 1e9, required=True, allow_none=True)


class CombinationShown(AnswerBody):
    """The lots together."""

    parcels = ma.fields.List(ma.fields.Nested(CombinedParcelAnswer), required=True)
    figures = ma.fields.Nested(CombinedFiguresAnswer, required=True)
    limits = ma.fields.List(ma.fields.Nested(MixedLimitAnswer), required=True)


class CombinationProofAnswer(AnswerBody):
    """Nothing undercuts the bound in what counted; the gap is their difference over the value, in percent."""

    counted = ma.fields.String(required=True)
    value = Number(0, 1e12, required=True)
    bound = Number(0, 1e12, required=True)
    gap_percent = Number(0, 100, required=True)
    is_optimal = ma.fields.Boolean(required=True)


class LetGoAnswer(AnswerBody):
    """A limit that would have to give way, and to what."""

    limit = ma.fields.String(required=True)
    wanted = Number(0, 1e12, required=True)
    would_do = Number(0, 1e12, required=True)
    unit = ma.fields.String(required=True)
    words = ma.fields.String(required=True)


class WhyNoneAnswer(AnswerBody):
    """Why no lots together meet the request: each of `any_one` would do alone, else all of `together`."""

    words = ma.fields.String(required=True)
    any_one = ma.fields.List(ma.fields.Nested(LetGoAnswer), required=True)
    together = ma.fields.List(ma.fields.Nested(LetGoAnswer), required=True)


class CombinationsAnswer(AnswerBody):
    """A combination with its proof, or why there is none."""

    request_code = ma.fields.String(required=True)
    aim = ma.fields.String(required=True)
    candidates = ma.fields.Integer(required=True, metadata={"description": "Lots that were looked at"})
    combination = ma.fields.Nested(CombinationShown, required=True, allow_none=True)
    proof = ma.fields.Nested(CombinationProofAnswer, required=True, allow_none=True)
    why_none = ma.fields.Nested(WhyNoneAnswer, required=True, allow_none=True)
    assumptions = lines(required=True)
    cautions = lines(required=True)


ANSWER_SCHEMA = CombinationsAnswer()
# Requests are served by a few threads; so many of them at most work on combinations, the others stay free.
AT_ONCE = BoundedSemaphore(2)


@bp.route("/<code>/combinations", methods=["POST"])
@bp.arguments(CombinationBody)
@bp.response(200, CombinationsAnswer)
@bp.refuses(*READING, InvalidRequest, Overloaded)
@bp.needs_token
def post_combinations(asked: dict[str, Any], code: str) -> Response:
    """The cheapest or best scored lots that together meet a request, or the limits that clash"""
    if not AT_ONCE.acquire(blocking=False):
        raise Overloaded("other combinations are being worked out; ask again in some seconds")
    try:
        found = read(
            lambda session: combine_for_request(session, code, caller=caller(), asked=asked, now=now())
        )
    finally:
        AT_ONCE.release()
    return json_response(ANSWER_SCHEMA.dump(found))
