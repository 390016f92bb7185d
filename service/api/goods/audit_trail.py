"""Who changed what, over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    Blueprint,
    PageQuery,
    json_response,
    next_link,
    page_of,
    read_cursor,
    write_cursor,
)
from service.api.fields import AnswerBody, Code, Instant, Text
from service.errors import InvalidRequest, NotFound, TokenNeeded
from service.market.goods.audit_trail import Change
from service.request_context import caller, now, read
from service.usecases.goods.audit_trail import list_changes

bp = Blueprint("changes", __name__, url_prefix="/v1/changes", description="Who changed what, when, for whom")


class FieldAnswer(AnswerBody):
    """One field before and after; null was no value."""

    name = ma.fields.String(required=True)
    before = ma.fields.Raw(required=True, allow_none=True)
    after = ma.fields.Raw(required=True, allow_none=True)
    kept_back = ma.fields.Boolean(
        required=True, metadata={"description": "it changed, and its words are one party's own"}
    )


class ChangeAnswer(AnswerBody):
    """One line of the trail."""

    at = Instant(required=True)
    by = ma.fields.String(required=True)
    made_for = ma.fields.String(required=True, allow_none=True)
    act = ma.fields.String(required=True, metadata={"description": "made, changed or removed"})
    kind = ma.fields.String(required=True)
    code = ma.fields.String(required=True, allow_none=True)
    lot_code = ma.fields.String(required=True, allow_none=True)
    grower_code = ma.fields.String(required=True, allow_none=True)
    brewery_code = ma.fields.String(required=True, allow_none=True)
    fields_ = ma.fields.List(ma.fields.Nested(FieldAnswer), data_key="fields", required=True)


class ChangeQuery(PageQuery):
    """Which lines."""

    lot_code = Code(load_default=None)
    kind = Text(longest=40, load_default=None)
    code = Code(load_default=None)


ANSWER_SCHEMA = ChangeAnswer()


def _said(change: Change) -> dict[str, Any]:
    told = {name: getattr(change, name) for name in ("at", "by", "made_for", "act", "kind", "code")}
    owners = {name: getattr(change, name) for name in ("lot_code", "grower_code", "brewery_code")}
    lines = [
        {"name": name, "before": pair and pair[0], "after": pair and pair[1], "kept_back": pair is None}
        for name, pair in change.fields.items()
    ]
    return {**told, **owners, "fields_": lines}


@bp.route("")
@bp.arguments(ChangeQuery, location="query")
@bp.response(200, page_of(ChangeAnswer, "ChangePage"))
@bp.refuses(InvalidRequest, TokenNeeded, NotFound)
def get_changes(asked: dict[str, Any]) -> Response:
    """Who changed what on one's own records, newest first; of a lot, also for a brewery committed to it"""
    after = read_cursor(asked["cursor"], asked, length=1)
    limit = asked["limit"]
    found = read(
        lambda session: list_changes(
            session,
            caller=caller(),
            lot_code=asked["lot_code"],
            kind=asked["kind"],
            code=asked["code"],
            after=after[0] if after and isinstance(after[0], int) else None,
            limit=limit + 1,
            now=now(),
        )
    )
    cursor = write_cursor([found[limit - 1].number], asked) if len(found) > limit else None
    items = ANSWER_SCHEMA.dump([_said(change) for change in found[:limit]], many=True)
    return json_response({"items": items, "next": cursor}, headers=next_link(cursor))
