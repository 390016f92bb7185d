"""Matches over JSON: which lots meet a request, and which nearly do."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    READING,
    Blueprint,
    PageQuery,
    json_response,
    next_link,
    page_of,
    read_cursor,
    write_cursor,
)
from service.api.fields import AnswerBody, Kilograms, Money, Number, estimate, lines
from service.errors import InvalidRequest
from service.request_context import caller, now, read
from service.usecases.matching.matching import match_request

bp = Blueprint("matches", __name__, url_prefix="/v1/requests", description="Lots for a request")


PARTS_TOLD = (
    "Each from 0 to 1; null where nobody can tell, which counts as 0.5. freshness: the share of the fresh alpha and"
    " beta acids estimated to be left on the last day needed. oil: oil/(oil + 1 mL per 100 g). price: the cheapest"
    " of the lots that fit over this one, by the kilogram of alpha acids unless aroma is wanted. distance:"
    " 200/(200 + whole km). evidence: the mean of method (HPLC 1, spectrophotometry 0.7, lead value 0.6, another"
    " 0.4), who drew the sample (an official 1, the laboratory 0.9, the grower 0.6), packages cored n/(n + 2),"
    " reports 1 - 0.5^n, and of two or more reports 1 - spread/0.4; 0 without a report. cultivar, role: 1 if wanted,"
    " else 0. The score is their mean by `weights`. Scales and weights are house figures; assumption, no source."
)


class ParcelCostAnswer(AnswerBody):
    """What the parcel costs, and a kilogram of alpha acids in it on the day needed."""

    amount = Money(required=True)
    currency = ma.fields.String(required=True)
    per_kg_alpha = Number(0, 1e12, required=True, allow_none=True)


class MatchAnswer(AnswerBody):
    """A lot that keeps every limit; each part of the score is told in `reasons`."""

    lot_code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    cultivar = ma.fields.String(required=True)
    form = ma.fields.String(required=True)
    score = Number(0, 1, required=True)
    parts = ma.fields.Dict(
        keys=ma.fields.String(),
        values=Number(0, 1, allow_none=True),
        required=True,
        metadata={"description": PARTS_TOLD},
    )
    reasons = lines(required=True)
    alpha_percent_when_needed = estimate(required=True, allow_none=True)
    hop_storage_index_when_needed = estimate(required=True, allow_none=True)
    alpha_method = ma.fields.String(required=True, allow_none=True)
    chance_all_limits_met = Number(0, 1, required=True)
    distance_km = ma.fields.Integer(required=True)
    free_kg = Kilograms(required=True)
    parcel_kg = Kilograms(required=True, metadata={"description": "What it would give to this request"})
    cost = ma.fields.Nested(ParcelCostAnswer, required=True, allow_none=True)


class FailureAnswer(AnswerBody):
    """A limit that a lot does not keep; found null was never measured."""

    limit = ma.fields.String(required=True)
    wanted = ma.fields.Raw(required=True)
    found = ma.fields.Raw(required=True, allow_none=True)
    change = ma.fields.String(
        required=True, metadata={"description": "The smallest change that would let the lot in"}
    )


class NearMissAnswer(AnswerBody):
    """A lot that fails one or two limits."""

    lot_code = ma.fields.String(required=True)
    cultivar = ma.fields.String(required=True)
    fails = ma.fields.List(ma.fields.Nested(FailureAnswer), required=True)


class MatchPage(page_of(MatchAnswer, "Matches")):  # type: ignore[misc]  # the page is made of its item
    """Matches, best first; near misses stand on the first page."""

    near_misses = ma.fields.List(ma.fields.Nested(NearMissAnswer), required=True)
    weights = ma.fields.Dict(keys=ma.fields.String(), values=Number(0, 1), required=True)
    assumptions = lines(required=True)
    cautions = lines(required=True)


ANSWER_SCHEMA, MISSED = MatchAnswer(), NearMissAnswer()


@bp.route("/<code>/matches")
@bp.arguments(PageQuery, location="query")
@bp.response(200, MatchPage)
@bp.refuses(*READING, InvalidRequest)
def get_matches(asked: dict[str, Any], code: str) -> Response:
    """Ranked lots for a request, and near misses with what they fail"""
    query = {"request": code}
    after = _position(read_cursor(asked["cursor"], query, length=2))
    page = read(
        lambda session: match_request(
            session, code, caller=caller(), now=now(), after=after, limit=asked["limit"]
        )
    )
    cursor = write_cursor(list(page.position), query) if page.position else None
    body = {
        "items": ANSWER_SCHEMA.dump(page.matches, many=True),
        "near_misses": MISSED.dump(page.near_misses, many=True),
        "weights": {name: round(weight, 4) for name, weight in page.weights.items()},
        "assumptions": list(page.assumptions),
        "cautions": list(page.cautions),
        "next": cursor,
    }
    return json_response(body, headers=next_link(cursor))


def _position(after: list[Any] | None) -> tuple[float, str] | None:
    if after is None:
        return None
    if not isinstance(after[0], int | float) or not isinstance(after[1], str):
        fault = {"parameter": "cursor", "detail": "Not a cursor of this list under this query."}
        raise InvalidRequest("that is not a cursor of this list", errors=[fault])
    return float(after[0]), after[1]
