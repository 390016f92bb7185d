"""Cultivars over JSON: what is published of them, and what the region adds."""

from typing import Any

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
from service.api.fields import Text
from service.api.goods.cultivar_schemas import CultivarAnswer, CultivarBody, CultivarPatch, owned, shown
from service.errors import (
    AlreadyExists,
    InvalidRequest,
    NotAllowed,
    TokenNeeded,
)
from service.market.goods.cultivar_views import CultivarView, position_of
from service.request_context import caller, read, today, write
from service.usecases.goods.cultivars import (
    list_cultivars,
    revise_cultivar,
    show_cultivar,
    welcome_cultivar,
)

bp = Blueprint(
    "cultivars", __name__, url_prefix="/v1/cultivars", description="Cultivars, each figure with its source"
)


class CultivarQuery(PageQuery):
    """Which cultivars."""

    name = Text(
        longest=80,
        load_default=None,
        metadata={"description": "Denomination or synonym; an ambiguous name gives all it may mean"},
    )


CultivarPage = page_of(CultivarAnswer, "CultivarPage")


@bp.route("")
@bp.arguments(CultivarQuery, location="query")
@bp.response(200, CultivarPage)
@bp.refuses(InvalidRequest, TokenNeeded)
def get_cultivars(asked: dict[str, Any]) -> Response:
    """List cultivars, shipped and regional, by denomination"""
    position = read_position(asked, str, str)
    views, cautions = read(
        lambda session: list_cultivars(
            session,
            name=asked["name"],
            after=position,
            limit=asked["limit"] + 1,
        )
    )
    beside: dict[str, Any] = {"cautions": list(cautions)} if cautions else {}
    return page_response(
        views, query=asked, key=position_of, dump=lambda page: [shown(view) for view in page], **beside
    )


@bp.route("", methods=["POST"])
@bp.arguments(CultivarBody)
@bp.response(201, CultivarAnswer)
@bp.refuses(InvalidRequest, TokenNeeded, NotAllowed, AlreadyExists)
@bp.repeatable
def post_cultivar(asked: dict[str, Any]) -> Response:
    """Take a cultivar into the region's books that the service does not ship"""

    return creation_response(
        lambda session: welcome_cultivar(session, caller=caller(), asked=asked, today=today()),
        shown,
        headers=lambda made: {"Location": f"/v1/cultivars/{made.code}", "ETag": _version(made)},
    )


@bp.route("/<code>")
@bp.response(200, CultivarAnswer)
@bp.refuses(*READING)
def get_cultivar(code: str) -> Response:
    """Show one cultivar"""
    return _one(read(lambda session: show_cultivar(session, code)))


@bp.route("/<code>", methods=["PATCH"])
@bp.arguments(CultivarPatch, content_type=MERGE_PATCH)
@bp.response(200, CultivarAnswer)
@bp.refuses(*CHANGING, AlreadyExists)
@bp.versioned
def patch_cultivar(changes: dict[str, Any], code: str) -> Response:
    """Change what the region told of a cultivar; of a shipped one its availability by country"""
    view = write(
        lambda session: revise_cultivar(
            session,
            code,
            caller=caller(),
            changes=changes,
            today=today(),
            unless_changed=lambda found: require_version(_version(found)),
        )
    )
    return _one(view)


def _one(view: CultivarView) -> Response:
    return json_response(shown(view), headers={"ETag": _version(view)})


def _version(view: CultivarView) -> str:
    return version_of(owned(view))
