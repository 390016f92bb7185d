"""Growers and breweries over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    CHANGING,
    MERGE_PATCH,
    READING,
    Blueprint,
    PageQuery,
    json_answer,
    json_response,
    page_of,
    page_response,
    patch_of,
    read_position,
    require_version,
    respond,
    version_of,
)
from service.api.fields import AnswerBody, Body, Code, Country, Flag, Number, Text
from service.errors import (
    AlreadyExists,
    InvalidRequest,
    NotAllowed,
    TokenNeeded,
)
from service.market.people.parties import Party
from service.request_context import Answer, caller, create, read, write
from service.usecases.people.parties import list_parties, revise_party, show_party, welcome_party


class PartyBody(Body):
    """A grower or a brewery."""

    code = Code(party=True, required=True)
    name = Text(required=True)
    email = ma.fields.Email(load_default=None, allow_none=True, validate=ma.validate.Length(max=254))
    country = Country(required=True)
    locality = Text(required=True)
    latitude_deg = Number(-90, 90, required=True)
    longitude_deg = Number(-180, 180, required=True)
    elevation_m = Number(-450, 6000, load_default=None, allow_none=True)
    shows_consistency = Flag(
        load_default=False,
        metadata={"description": "a grower's consent that breweries see how alike its lots are"},
    )


class PartyAnswer(AnswerBody):
    """A grower or a brewery; without a token its place is rounded to 0.1 degree."""

    code = ma.fields.String(required=True)
    name = ma.fields.String(required=True)
    email = ma.fields.String(allow_none=True)
    country = ma.fields.String(required=True)
    locality = ma.fields.String(required=True)
    latitude_deg = Number(-90, 90, required=True)
    longitude_deg = Number(-180, 180, required=True)
    elevation_m = Number(-450, 6000, allow_none=True)
    shows_consistency = ma.fields.Boolean(required=True)


PartyPatch = patch_of(
    PartyBody,
    "PartyPatch",
    without=("code",),
    never_null=("name", "country", "locality", "latitude_deg", "longitude_deg", "shows_consistency"),
)
ANSWER_SCHEMA = PartyAnswer()


def party_blueprint(kind: str, plural: str) -> Blueprint:
    """The views of one kind of party."""
    bp = Blueprint(plural, __name__, url_prefix=f"/v1/{plural}", description=f"The {plural} of the region")
    page = page_of(PartyAnswer, f"{kind.capitalize()}Page")

    @bp.route("", endpoint=f"get_{plural}")
    @bp.arguments(PageQuery, location="query")
    @bp.response(200, page)
    @bp.refuses(InvalidRequest, TokenNeeded)
    @bp.doc(summary=f"List {plural} in the order of their codes")
    def get_all(asked: dict[str, Any]) -> Response:
        position = read_position(asked, str, bound_to={})
        found = read(
            lambda session: list_parties(
                session,
                caller=caller(),
                kind=kind,
                after=position[0] if position else None,
                limit=asked["limit"] + 1,
            )
        )
        return page_response(
            found,
            query=asked,
            key=lambda party: [party.code],
            dump=lambda parties: ANSWER_SCHEMA.dump(parties, many=True),
            bound_to={},
        )

    @bp.route("", methods=["POST"], endpoint=f"post_{kind}")
    @bp.arguments(PartyBody)
    @bp.response(201, PartyAnswer)
    @bp.refuses(InvalidRequest, TokenNeeded, NotAllowed, AlreadyExists)
    @bp.repeatable
    @bp.doc(summary=f"Take a new {kind} into the books")
    def post_one(asked: dict[str, Any]) -> Response:
        def work(session: Any) -> Answer:
            party = welcome_party(session, caller=caller(), party=Party(kind=kind, **asked))
            address = {"Location": f"/v1/{plural}/{party.code}", "ETag": _version(party)}
            return json_answer(ANSWER_SCHEMA.dump(party), headers=address)

        return respond(create(work))

    @bp.route("/<code>", endpoint=f"get_{kind}")
    @bp.response(200, PartyAnswer)
    @bp.refuses(*READING)
    @bp.doc(summary=f"Show one {kind}")
    def get_one(code: str) -> Response:
        party = read(lambda session: show_party(session, caller=caller(), kind=kind, code=code))
        return json_response(ANSWER_SCHEMA.dump(party), headers={"ETag": _version(party)})

    @bp.route("/<code>", methods=["PATCH"], endpoint=f"patch_{kind}")
    @bp.arguments(PartyPatch, content_type=MERGE_PATCH)
    @bp.response(200, PartyAnswer)
    @bp.refuses(*CHANGING)
    @bp.versioned
    @bp.doc(summary=f"Change one {kind}")
    def patch_one(changes: dict[str, Any], code: str) -> Response:
        party = write(
            lambda session: revise_party(
                session,
                caller=caller(),
                kind=kind,
                code=code,
                changes=changes,
                unless_changed=lambda found: require_version(_version(found)),
            )
        )
        return json_response(ANSWER_SCHEMA.dump(party), headers={"ETag": _version(party)})

    return bp


def _version(party: Party) -> str:
    return version_of(ANSWER_SCHEMA.dump(party))


growers = party_blueprint("grower", "growers")
breweries = party_blueprint("brewery", "breweries")
