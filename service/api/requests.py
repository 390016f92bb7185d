"""Requests over JSON: what a brewery wants."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    MERGE_PATCH,
    Door,
    PageQuery,
    next_link,
    page_of,
    patch_of,
    read_cursor,
    ready,
    require_version,
    send,
    speak,
    version_of,
    write_cursor,
)
from service.api.fields import (
    AnswerBody,
    Body,
    Choice,
    Code,
    Currency,
    Day,
    Flag,
    Instant,
    Kilograms,
    Money,
    Number,
    Percent,
    Text,
    Whole,
)
from service.errors import (
    IllegalStep,
    InvalidRequest,
    NotAllowed,
    NotFound,
    PreconditionNeeded,
    PreconditionStale,
    TokenNeeded,
)
from service.market.lots import FORMS, PACKINGS, ROLES
from service.market.requests import (
    BITTER_AT,
    DELIVERIES_MAX,
    FIRMNESS,
    PARTS,
    SHOWN_REQUEST_STATES,
    Request,
)
from service.usecases.requests import (
    list_requests,
    place_request,
    revise_request,
    show_request,
    withdraw_request,
)
from service.visit import Answer, create, now, read, today, visitor, write

bp = Door("requests", __name__, url_prefix="/v1/requests", description="What breweries want")


class WantedBitternessBody(Body):
    """A bitterness wanted in a volume of beer; one of gravity_sg and gravity_plato is given."""

    ibu = Number(0, 1000, above=True, required=True)
    volume_l = Number(0.1, 10_000_000, required=True)
    gravity_sg = Number(1.0, 1.15)
    gravity_plato = Number(0, 34)
    at = Choice(BITTER_AT, load_default="boil")
    minutes = Number(0, 240, above=True, load_default=60.0)
    temperature_c = Number(60, 130, load_default=None, allow_none=True)


class DeliveryBody(Body):
    """What is needed on a day: exactly one of mass_kg, alpha_kg, bitterness."""

    needed_on = Day(required=True)
    mass_kg = Kilograms(load_default=None, allow_none=True)
    alpha_kg = Kilograms(load_default=None, allow_none=True)
    bitterness = ma.fields.Nested(WantedBitternessBody, load_default=None, allow_none=True)


def _choices(choices: tuple[str, ...]) -> ma.fields.List[Any]:
    return ma.fields.List(Choice(choices), load_default=list, validate=ma.validate.Length(max=len(choices)))


class RequestBody(Body):
    """A request."""

    brewery_code = Code(party=True, load_default=None, allow_none=True)
    role = Choice(ROLES, required=True)
    role_strict = Flag(load_default=False)
    firmness = Choice(FIRMNESS, load_default="intent")
    cultivars = ma.fields.List(Text(longest=80), load_default=list, validate=ma.validate.Length(max=50))
    accept_others = Flag(load_default=True)
    forms = _choices(FORMS)
    packings = _choices(PACKINGS)
    deliveries = ma.fields.List(
        ma.fields.Nested(DeliveryBody), required=True, validate=ma.validate.Length(1, DELIVERIES_MAX)
    )
    alpha_percent_min = Percent(load_default=None, allow_none=True)
    alpha_percent_max = Percent(load_default=None, allow_none=True)
    hop_storage_index_max = Number(0.05, 2.03, load_default=None, allow_none=True)
    moisture_percent_max = Percent(load_default=None, allow_none=True)
    oil_ml_per_100g_min = Number(0, 20, load_default=None, allow_none=True)
    within_km = Number(0, 20_040, above=True, load_default=None, allow_none=True)
    price_per_kg_max = Money(load_default=None, allow_none=True)
    price_per_kg_alpha_max = Money(load_default=None, allow_none=True)
    currency = Currency(load_default=None, allow_none=True)
    lots_max = Whole(1, 1000, load_default=None, allow_none=True)
    parcel_kg_min = Kilograms(load_default=None, allow_none=True)
    weights = ma.fields.Dict(
        keys=Choice(PARTS),
        values=Number(0, 100),
        load_default=dict,
        metadata={"description": "How much each part of the score counts; parts not named keep their own"},
    )
    note = Text(longest=2000, load_default=None, allow_none=True)


RequestPatch = patch_of(RequestBody, "RequestPatch", without=("brewery_code",))
NEVER_NULL = (
    "role",
    "role_strict",
    "firmness",
    "cultivars",
    "accept_others",
    "forms",
    "packings",
    "deliveries",
    "weights",
)
for _name in NEVER_NULL:
    RequestPatch._declared_fields[_name].allow_none = False
# A merge patch goes into objects: a weight that is null is taken away.
RequestPatch._declared_fields["weights"] = ma.fields.Dict(
    keys=Choice(PARTS), values=Number(0, 100, allow_none=True)
)


class WantedBitternessAnswer(AnswerBody):
    """A bitterness wanted, and the alpha acids it is estimated to take."""

    ibu = Number(0, 1000, required=True)
    volume_l = Number(0, 10_000_000, required=True)
    gravity_sg = Number(1.0, 1.17, required=True)
    at = ma.fields.String(required=True)
    minutes = Number(0, 240, required=True)
    temperature_c = Number(60, 130, required=True, allow_none=True)


class DeliveryAnswer(AnswerBody):
    """What is needed on a day."""

    needed_on = ma.fields.Date(required=True)
    mass_kg = Kilograms(required=True, allow_none=True)
    alpha_kg = Kilograms(required=True, allow_none=True)
    bitterness = ma.fields.Nested(WantedBitternessAnswer, required=True, allow_none=True)


class RequestAnswer(AnswerBody):
    """A request; `lapsed` is read from the clock."""

    code = ma.fields.String(required=True)
    brewery_code = ma.fields.String(required=True)
    state = ma.fields.Function(
        lambda request: request.shown_state(today()), metadata={"type": "string"}, required=True
    )
    role = ma.fields.String(required=True)
    role_strict = ma.fields.Boolean(required=True)
    firmness = ma.fields.String(required=True)
    cultivars = ma.fields.List(ma.fields.String(), required=True)
    accept_others = ma.fields.Boolean(required=True)
    forms = ma.fields.List(ma.fields.String(), required=True)
    packings = ma.fields.List(ma.fields.String(), required=True)
    deliveries = ma.fields.List(ma.fields.Nested(DeliveryAnswer), required=True)
    alpha_percent_min = Percent(required=True, allow_none=True)
    alpha_percent_max = Percent(required=True, allow_none=True)
    hop_storage_index_max = Number(0.05, 2.03, required=True, allow_none=True)
    moisture_percent_max = Percent(required=True, allow_none=True)
    oil_ml_per_100g_min = Number(0, 20, required=True, allow_none=True)
    within_km = Number(0, 20_040, required=True, allow_none=True)
    price_per_kg_max = Money(required=True, allow_none=True)
    price_per_kg_alpha_max = Money(required=True, allow_none=True)
    currency = ma.fields.String(required=True, allow_none=True)
    lots_max = ma.fields.Integer(required=True, allow_none=True)
    parcel_kg_min = Kilograms(required=True, allow_none=True)
    weights = ma.fields.Dict(keys=ma.fields.String(), values=Number(0, 100), required=True)
    note = ma.fields.String(required=True, allow_none=True)
    made_at = Instant(required=True)
    made_by = ma.fields.String(required=True)


class RequestQuery(PageQuery):
    """Which of one's own requests."""

    state = Choice(SHOWN_REQUEST_STATES, load_default=None)


SHOWN = RequestAnswer()
OWNED = RequestAnswer(only=tuple(name for name in RequestBody._declared_fields if name != "brewery_code"))


def _version(request: Request) -> str:
    # A withdrawal is the owner's doing, too; whether a request is filled is not.
    return version_of({**OWNED.dump(request), "withdrawn": request.state == "withdrawn"})


@bp.route("")
@bp.arguments(RequestQuery, location="query")
@bp.response(200, page_of(RequestAnswer, "RequestPage"))
@bp.refuses(InvalidRequest, TokenNeeded)
def get_requests(asked: dict[str, Any]) -> Response:
    """One's own requests, newest first; the specialist sees everybody's"""
    after = read_cursor(asked["cursor"], asked, length=1)
    limit = asked["limit"]
    found = read(
        lambda session: list_requests(
            session,
            visitor=visitor(),
            state=asked["state"],
            after=after[0] if after and isinstance(after[0], int) else None,
            limit=limit + 1,
            now=now(),
        )
    )
    cursor = write_cursor([found[limit - 1][1]], asked) if len(found) > limit else None
    items = SHOWN.dump([request for request, _ in found[:limit]], many=True)
    return speak({"items": items, "next": cursor}, headers=next_link(cursor))


@bp.route("", methods=["POST"])
@bp.arguments(RequestBody)
@bp.response(201, RequestAnswer)
@bp.refuses(TokenNeeded, NotAllowed, NotFound, InvalidRequest)
@bp.repeatable
def post_request(asked: dict[str, Any]) -> Response:
    """Say what a brewery wants, when and within which limits"""

    def work(session: Any) -> Answer:
        request = place_request(session, visitor=visitor(), asked=asked, now=now())
        address = {"Location": f"/v1/requests/{request.code}", "ETag": _version(request)}
        return ready(SHOWN.dump(request), headers=address)

    return send(create(work))


@bp.route("/<code>")
@bp.response(200, RequestAnswer)
@bp.refuses(TokenNeeded, NotFound)
def get_request(code: str) -> Response:
    """Show a request to its brewery"""
    request = read(lambda session: show_request(session, code, visitor=visitor()))
    return speak(SHOWN.dump(request), headers={"ETag": _version(request)})


@bp.route("/<code>", methods=["PATCH"])
@bp.arguments(RequestPatch, content_type=MERGE_PATCH)
@bp.response(200, RequestAnswer)
@bp.refuses(
    TokenNeeded, NotFound, NotAllowed, InvalidRequest, IllegalStep, PreconditionNeeded, PreconditionStale
)
@bp.versioned
def patch_request(changes: dict[str, Any], code: str) -> Response:
    """Change a request"""
    request = write(
        lambda session: revise_request(
            session,
            code,
            visitor=visitor(),
            changes=changes,
            now=now(),
            unless_changed=lambda found: require_version(_version(found)),
        )
    )
    return speak(SHOWN.dump(request), headers={"ETag": _version(request)})


@bp.route("/<code>", methods=["DELETE"])
@bp.response(204)
@bp.refuses(TokenNeeded, NotFound, NotAllowed, IllegalStep, PreconditionNeeded, PreconditionStale)
@bp.versioned
def delete_request(code: str) -> None:
    """Withdraw a request; what is promised for it stands"""
    write(
        lambda session: withdraw_request(
            session,
            code,
            visitor=visitor(),
            unless_changed=lambda found: require_version(_version(found)),
        )
    )
