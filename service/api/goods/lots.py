"""A grower's lots, and the search over what is listed."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    CHANGING,
    MERGE_PATCH,
    READING,
    Blueprint,
    PageQuery,
    creation_response,
    json_response,
    page_of,
    page_response,
    read_position,
    require_version,
    version_of,
)
from service.api.fields import (
    AnswerBody,
    Choice,
    Country,
    Currency,
    Day,
    Flag,
    Kilograms,
    Money,
    Number,
    Percent,
    Subdivision,
    Text,
    Whole,
    estimate,
)
from service.api.goods.lot_schemas import (
    ANSWER_SCHEMA,
    CertificationAnswer,
    LotAnswer,
    LotBody,
    LotPatch,
    owned_version,
)
from service.errors import (
    FixedByListing,
    FixedByStep,
    IllegalStep,
    InvalidRequest,
    ListingIncomplete,
    LotOnHold,
    NotAllowed,
    PickedInsideInterval,
    TokenNeeded,
)
from service.facts import as_dict
from service.market.goods.lab_reports import ALPHA_METHODS
from service.market.goods.lots import BLEND, FORMS, READINESS, STATES
from service.market.goods.provenance import ShownCertification
from service.market.matching.search import SORTS, LotLine
from service.market.sheet.lot_view import LotView
from service.reference.cultivar_rows import ROLES
from service.request_context import caller, now, read, write
from service.usecases.goods.lots import change_lot, discard_lot, draft_lot, list_own_lots, show_lot
from service.usecases.matching.search import search_lots

bp = Blueprint("lots", __name__, url_prefix="/v1/lots", description="Lots: drafted, listed, found")


class LotQuery(PageQuery):
    """Filters, all that are given together; a lot without a figure never passes a limit on it."""

    mine = Flag(in_query=True, metadata={"description": "One's own lots in any state, in the order of codes"})
    state = Choice((*STATES, "sold_out"), metadata={"description": "With mine=true"})
    role = Choice(ROLES, metadata={"description": "aroma or bittering finds dual too"})
    cultivar = Text(longest=80, metadata={"description": "Denomination or synonym"})
    known = Flag(in_query=True, metadata={"description": "Whether the service knows the cultivar"})
    crop_year = Whole(1900, 2200, in_query=True)
    form = Choice(FORMS)
    alpha_percent_min = Percent(in_query=True, metadata={"description": "Estimated for the day `on`"})
    alpha_percent_max = Percent(in_query=True)
    hop_storage_index_max = Number(0.05, 2.03, in_query=True)
    oil_ml_per_100g_min = Number(0, 20, in_query=True)
    free_kg_min = Kilograms(in_query=True, above=False)
    price_per_kg_max = Money(in_query=True, metadata={"description": "Needs currency"})
    currency = Currency()
    method = Choice(ALPHA_METHODS, metadata={"description": "How alpha was measured"})
    readiness = Choice(READINESS)
    origin_country = Country(metadata={"description": "Where the lot grew"})
    origin_subdivision = Subdivision()
    certification = Text(
        longest=80,
        metadata={"description": "organic, or the name of a scheme; only what is valid on the day `on`"},
    )
    near_latitude_deg = Number(-90, 90, in_query=True)
    near_longitude_deg = Number(-180, 180, in_query=True)
    within_km = Number(0, 20_040, in_query=True, above=True)
    on = Day(metadata={"description": "Today or later; limits and figures are estimated for that day"})
    sort = Choice(SORTS, metadata={"description": "Default -harvested; lots without the figure come last"})


class LotLineAnswer(AnswerBody):
    """One line of a search; with mine=true the rest of the lot stands beside, as LotAnswer names it."""

    class Meta:
        """More may follow."""

        unknown = ma.INCLUDE

    code = ma.fields.String(required=True)
    grower_code = ma.fields.String(required=True)
    cultivar = ma.fields.String(required=True, allow_none=True)
    crop_year = ma.fields.Integer(required=True, allow_none=True)
    form = ma.fields.String(required=True)
    packing = ma.fields.String(required=True, allow_none=True)
    readiness = ma.fields.String(required=True, allow_none=True)
    alpha_percent = estimate(allow_none=True)
    hop_storage_index = estimate(allow_none=True)
    alpha_method = ma.fields.String(allow_none=True)
    oil_ml_per_100g = Number(0, 20, allow_none=True)
    free_kg = Kilograms(required=True, above=False)
    price_per_kg = Money(required=True, allow_none=True)
    currency = ma.fields.String(required=True, allow_none=True)
    distance_km = ma.fields.Integer(allow_none=True)
    origin_country = ma.fields.String(allow_none=True)
    origin_subdivision = ma.fields.String(allow_none=True)
    certifications = ma.fields.List(
        ma.fields.Nested(CertificationAnswer), metadata={"description": "As they stand on the day `on`"}
    )


class LotPage(page_of(LotLineAnswer, "LotLines")):  # type: ignore[misc]
    """Lines of listed lots."""


@bp.route("")
@bp.arguments(LotQuery, location="query")
@bp.response(200, LotPage)
@bp.refuses(InvalidRequest, TokenNeeded)
def get_lots(asked: dict[str, Any]) -> Response:
    """Search the listed lots; with mine=true one's own"""
    if asked.get("mine"):
        return _own_lots(asked)
    if "state" in asked:
        fault = {"parameter": "state", "detail": "state goes with mine=true; a search finds listed lots."}
        raise InvalidRequest("state goes with mine=true", errors=[fault])
    position = read_position(asked, object, object)
    lines, cautions = read(
        lambda session: search_lots(
            session,
            caller=caller(),
            asked=asked,
            now=now(),
            after=position,
            limit=asked["limit"] + 1,
        )
    )
    beside: dict[str, Any] = {"cautions": list(cautions)} if cautions else {}
    return page_response(
        lines,
        query=asked,
        key=lambda item: item[1],
        dump=lambda items: [line_body(line) for line, _ in items],
        **beside,
    )


def _own_lots(asked: dict[str, Any]) -> Response:
    filters = sorted(set(asked) - {"mine", "state", "limit", "cursor"})
    if filters:
        faults = [{"parameter": name, "detail": "Does not go with mine=true."} for name in filters]
        raise InvalidRequest("with mine=true only state filters", errors=faults)
    position = read_position(asked, str)
    views = read(
        lambda session: list_own_lots(
            session,
            caller=caller(),
            state=asked.get("state"),
            after=position[0] if position else None,
            limit=asked["limit"] + 1,
            now=now(),
        )
    )
    return page_response(
        views,
        query=asked,
        key=lambda view: [view.lot.code],
        dump=lambda page: ANSWER_SCHEMA.dump(page, many=True),
    )


def line_body(line: LotLine) -> dict[str, Any]:
    """A line as plain JSON; written by hand because a page of them is the hottest answer of all."""
    return {
        "code": line.code,
        "grower_code": line.grower_code,
        "cultivar": None if line.cultivar == BLEND else line.cultivar,
        "crop_year": line.crop_year,
        "form": line.form,
        "packing": line.packing,
        "readiness": line.readiness,
        "alpha_percent": _estimate(line.alpha_percent),
        "hop_storage_index": _estimate(line.hop_storage_index),
        "alpha_method": line.alpha_method,
        "oil_ml_per_100g": line.oil_ml_per_100g,
        "free_kg": float(line.free_kg),
        "price_per_kg": None if line.price_per_kg is None else float(line.price_per_kg),
        "currency": line.currency,
        "distance_km": line.distance_km,
        "origin_country": line.origin_country,
        "origin_subdivision": line.origin_subdivision,
        "certifications": [_certification(held) for held in line.certifications],
    }


def _certification(held: ShownCertification) -> dict[str, Any]:
    return {**as_dict(held), "valid_until": held.valid_until.isoformat()}


def _estimate(figure: Any) -> dict[str, float] | None:
    if figure is None:
        return None
    return {
        "estimate": figure.estimate,
        "low": figure.low,
        "high": figure.high,
        "confidence": figure.confidence,
    }


@bp.route("", methods=["POST"])
@bp.arguments(LotBody)
@bp.response(201, LotAnswer)
@bp.refuses(*CHANGING)
@bp.repeatable
def post_lot(asked: dict[str, Any]) -> Response:
    """Draft a lot"""

    return creation_response(
        lambda session: draft_lot(session, caller=caller(), asked=asked, now=now()),
        ANSWER_SCHEMA.dump,
        headers=lambda made: {"Location": f"/v1/lots/{made.lot.code}", "ETag": _version(made)},
    )


@bp.route("/<code>")
@bp.response(200, LotAnswer)
@bp.refuses(*READING)
def get_lot(code: str) -> Response:
    """Show one lot"""
    view = read(lambda session: show_lot(session, code, caller=caller(), now=now()))
    return _one(view)


@bp.route("/<code>", methods=["PATCH"])
@bp.arguments(LotPatch, content_type=MERGE_PATCH)
@bp.response(200, LotAnswer)
@bp.refuses(*CHANGING, FixedByListing, FixedByStep, ListingIncomplete, PickedInsideInterval)
@bp.versioned
def patch_lot(changes: dict[str, Any], code: str) -> Response:
    """Change a lot; a change of storage opens a new spell today"""
    view = write(
        lambda session: change_lot(
            session, code, caller=caller(), changes=changes, now=now(), unless_changed=_unless_changed
        )
    )
    return _one(view)


@bp.route("/<code>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(*READING, NotAllowed, IllegalStep, LotOnHold)
@bp.versioned
def delete_lot(code: str) -> None:
    """Discard a draft"""
    write(
        lambda session: discard_lot(session, code, caller=caller(), now=now(), unless_changed=_unless_changed)
    )


def _one(view: LotView) -> Response:
    return json_response(ANSWER_SCHEMA.dump(view), headers={"ETag": _version(view)})


def _version(view: LotView) -> str:
    return version_of(owned_version(view))


def _unless_changed(view: LotView) -> None:
    require_version(_version(view))
