"""Growers and breweries over JSON."""

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
from service.api.fields import AnswerBody, Body, Code, Country, Flag, Number, Text
from service.errors import (
    AlreadyExists,
    InvalidRequest,
    NotAllowed,
    NotFound,
    PreconditionNeeded,
    PreconditionStale,
    TokenNeeded,
)
from service.market.people.parties import Party
from service.usecases.people.parties import list_parties, revise_party, show_party, welcome_party
from service.visit import Answer, create, read, visitor, write


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


PartyPatch = patch_of(PartyBody, "PartyPatch", without=("code",))
NEVER_NULL = ("name", "country", "locality", "latitude_deg", "longitude_deg", "shows_consistency")
for _name in NEVER_NULL:
    PartyPatch._declared_fields[_name].allow_none = False
SHOWN = PartyAnswer()


def party_door(kind: str, plural: str) -> Door:
    """The views of one kind of party."""
    door = Door(plural, __name__, url_prefix=f"/v1/{plural}", description=f"The {plural} of the region")
    page = page_of(PartyAnswer, f"{kind.capitalize()}Page")

    @door.route("")
    @door.arguments(PageQuery, location="query")
    @door.response(200, page)
    @door.refuses(InvalidRequest, TokenNeeded)
    @door.doc(summary=f"List {plural} in the order of their codes", operationId=f"get_{plural}")
    def get_all(asked: dict[str, Any]) -> Response:
        after = read_cursor(asked["cursor"], {}, length=1)
        found = read(
            lambda session: list_parties(
                session,
                visitor=visitor(),
                kind=kind,
                after=str(after[0]) if after else None,
                limit=asked["limit"] + 1,
            )
        )
        items, more = found[: asked["limit"]], len(found) > asked["limit"]
        cursor = write_cursor([items[-1].code], {}) if more else None
        return speak({"items": SHOWN.dump(items, many=True), "next": cursor}, headers=next_link(cursor))

    @door.route("", methods=["POST"])
    @door.arguments(PartyBody)
    @door.response(201, PartyAnswer)
    @door.refuses(InvalidRequest, TokenNeeded, NotAllowed, AlreadyExists)
    @door.repeatable
    @door.doc(summary=f"Take a new {kind} into the books", operationId=f"post_{kind}")
    def post_one(asked: dict[str, Any]) -> Response:
        def work(session: Any) -> Answer:
            party = welcome_party(session, visitor=visitor(), party=Party(kind=kind, **asked))
            address = {"Location": f"/v1/{plural}/{party.code}", "ETag": _version(party)}
            return ready(SHOWN.dump(party), headers=address)

        return send(create(work))

    @door.route("/<code>")
    @door.response(200, PartyAnswer)
    @door.refuses(NotFound, TokenNeeded)
    @door.doc(summary=f"Show one {kind}", operationId=f"get_{kind}")
    def get_one(code: str) -> Response:
        party = read(lambda session: show_party(session, visitor=visitor(), kind=kind, code=code))
        return speak(SHOWN.dump(party), headers={"ETag": _version(party)})

    @door.route("/<code>", methods=["PATCH"])
    @door.arguments(PartyPatch, content_type=MERGE_PATCH)
    @door.response(200, PartyAnswer)
    @door.refuses(NotFound, TokenNeeded, NotAllowed, InvalidRequest, PreconditionNeeded, PreconditionStale)
    @door.versioned
    @door.doc(summary=f"Change one {kind}", operationId=f"patch_{kind}")
    def patch_one(changes: dict[str, Any], code: str) -> Response:
        party = write(
            lambda session: revise_party(
                session,
                visitor=visitor(),
                kind=kind,
                code=code,
                changes=changes,
                unless_changed=lambda found: require_version(_version(found)),
            )
        )
        return speak(SHOWN.dump(party), headers={"ETag": _version(party)})

    return door


def _version(party: Party) -> str:
    return version_of(SHOWN.dump(party))


growers = party_door("grower", "growers")
breweries = party_door("brewery", "breweries")
