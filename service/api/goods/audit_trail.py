"""Who changed what, over JSON."""

from typing import Any

import marshmallow as ma
from flask import Response

from service.api.contract import (
    READING,
    Blueprint,
    PageQuery,
    page_of,
    page_response,
    read_position,
)
from service.api.fields import AnswerBody, Code, Instant, Text
from service.errors import InvalidRequest
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
@bp.refuses(*READING, InvalidRequest)
def get_changes(asked: dict[str, Any]) -> Response:
    """Who changed what on one's own records, newest first; of a lot, also for a brewery committed to it"""
    position = read_position(asked, int)
    found = read(
        lambda session: list_changes(
            session,
            caller=caller(),
            lot_code=asked["lot_code"],
            kind=asked["kind"],
            code=asked["code"],
            after=position[0] if position else None,
            limit=asked["limit"] + 1,
            now=now(),
        )
    )
    return page_response(
        found,
        query=asked,
        key=lambda change: [change.number],
        dump=lambda changes: ANSWER_SCHEMA.dump([_said(change) for change in changes], many=True),
    )
