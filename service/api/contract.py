"""The contract all views share: strict reading, one way of answering, pages, versions."""

import base64
import binascii
import hashlib
import json
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

import marshmallow as ma
from flask import Response, request
from flask_smorest import Blueprint
from webargs.flaskparser import FlaskParser, abort

from service.api.fields import AnswerBody, Body, Query, Text, Whole
from service.api.problems import PROBLEM, ProblemBody, status_of
from service.errors import InvalidRequest, PreconditionNeeded, PreconditionStale, Refusal
from service.visit import Answer

JSON = "application/json"
MERGE_PATCH = "application/merge-patch+json"


class _UnreadableError(ValueError):
    """JSON that must not be guessed at."""


def read_json(text: str) -> Any:
    """Read JSON strictly: exact decimals, no NaN, no repeated names.

    Raises:
        ValueError: it is not such JSON.

    """
    try:
        return json.loads(
            text, object_pairs_hook=_no_repeats, parse_constant=_no_constant, parse_float=Decimal
        )
    except RecursionError:
        raise _UnreadableError("too deeply nested") from None


def _no_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    things = dict(pairs)
    if len(things) != len(pairs):
        raise _UnreadableError("a name stands twice")
    return things


def _no_constant(name: str) -> Any:
    raise _UnreadableError(f"{name} is not JSON")


class StrictParser(FlaskParser):
    """415 for a body that is not JSON, 400 for JSON that cannot be read, 422 for what does not fit."""

    DEFAULT_UNKNOWN_BY_LOCATION: dict[str, str | None] = {  # noqa: RUF012 -- as the library declares it
        **FlaskParser.DEFAULT_UNKNOWN_BY_LOCATION,
        "json": ma.RAISE,
        "query": ma.RAISE,
    }

    def load_json(self, req: Any, schema: Any) -> Any:
        """Read the body."""
        raw = req.get_data(cache=True)
        if not raw:
            return {}
        if not req.is_json:
            abort(415, message="Send the body as application/json.")
        try:
            return read_json(raw.decode("utf-8"))
        except ValueError as problem:
            abort(
                400, exc=problem, message="The body is not readable JSON (UTF-8, no NaN, no repeated names)."
            )

    def load_querystring(self, req: Any, schema: Any) -> Any:
        """Read the query: each name once, none empty."""
        wrong = {
            name: ["Give this parameter once." if len(values) > 1 else "Give a value, or leave it out."]
            for name, values in req.args.lists()
            if len(values) > 1 or values[0] == ""
        }
        if wrong:
            raise ma.ValidationError(wrong)
        return super().load_querystring(req, schema)


class Door(Blueprint):
    """A shelf of views under one address."""

    ARGUMENTS_PARSER = StrictParser()

    def refuses(self, *kinds: type[Refusal]) -> Callable[[Any], Any]:
        """Say in the document which refusals a view can give."""
        by_status: dict[int, list[str]] = {}
        for kind in kinds:
            by_status.setdefault(status_of(kind), []).append(kind.code)

        def decorate(view: Any) -> Any:
            for status, codes in sorted(by_status.items()):
                view = self.alt_response(
                    status, schema=ProblemBody, description=", ".join(codes), content_type=PROBLEM
                )(view)
            return view

        return decorate

    def versioned(self, view: Any) -> Any:
        """Say in the document that a change takes If-Match."""
        return self.doc(
            parameters=[
                {
                    "in": "header",
                    "name": "If-Match",
                    "schema": {"type": "string"},
                    "description": "The ETag of the record as it was read; without it the answer is 428.",
                }
            ]
        )(view)

    def repeatable(self, view: Any) -> Any:
        """Say in the document that an Idempotency-Key is taken."""
        return self.doc(
            parameters=[
                {
                    "in": "header",
                    "name": "Idempotency-Key",
                    "schema": {"type": "string", "minLength": 1, "maxLength": 200},
                    "description": "With it, the same request sent again within 24 h gives the first answer.",
                }
            ]
        )(view)


class PageQuery(Query):
    """Which part of a collection."""

    limit = Whole(1, 100, in_query=True, load_default=20)
    cursor = Text(longest=500, load_default=None, metadata={"description": "`next` of the page before"})


def page_of(item: type[AnswerBody], name: str) -> type[AnswerBody]:
    """The schema of a page of items."""
    return type(
        name,
        (AnswerBody,),
        {
            "__doc__": "A page of a collection.",
            "items": ma.fields.List(ma.fields.Nested(item), required=True),
            "next": ma.fields.String(required=True, allow_none=True),
            "cautions": ma.fields.List(ma.fields.String()),
        },
    )


def patch_of(body: type[Body], name: str, *, without: tuple[str, ...] = ()) -> type[Body]:
    """The schema of a merge patch (RFC 7396) on a body: nothing required, null removes."""
    changed: dict[str, Any] = {"__doc__": f"A change of {body.__name__}: only what changes; null removes."}
    for field_name, declared in body._declared_fields.items():
        if field_name in without:
            continue
        twin = type(declared).__new__(type(declared))
        twin.__dict__.update(declared.__dict__)
        twin.required, twin.load_default = False, ma.missing
        twin.allow_none = True
        changed[field_name] = twin
    return type(name, (Body,), changed)


def speak(body: Any, *, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """Send a body that is plain already."""
    return Response(to_text(body), status=status, mimetype=JSON, headers=dict(headers or {}))


def to_text(body: Any) -> str:
    """Write a body as JSON."""
    return json.dumps(body, ensure_ascii=False, allow_nan=False, default=_plain) + "\n"


def _plain(value: object) -> object:
    if hasattr(value, "quantize"):
        return float(value)  # type: ignore[arg-type]
    raise TypeError(f"{type(value).__name__} has no place in an answer")


def send(answer: Answer) -> Response:
    """Send an answer that was made ready inside the transaction."""
    return Response(answer.text, status=answer.status, mimetype=JSON, headers=answer.headers)


def ready(body: Any, *, status: int = 201, headers: Mapping[str, str] | None = None) -> Answer:
    """Make an answer ready to be sent, and kept."""
    return Answer(text=to_text(body), status=status, headers=dict(headers or {}))


def version_of(changeable: Any) -> str:
    """The ETag over what a record's owner may change."""
    text = json.dumps(changeable, sort_keys=True, default=str, ensure_ascii=True)
    return '"' + hashlib.sha256(text.encode()).hexdigest()[:32] + '"'


def require_version(current: str) -> None:
    """Compare If-Match with the record as it is now.

    Raises:
        PreconditionNeeded: the header is missing.
        PreconditionStale: the record changed.

    """
    given = request.headers.get("If-Match")
    if given is None:
        raise PreconditionNeeded("send the ETag you read as If-Match")
    tags = [tag.strip() for tag in given.split(",")]
    if "*" not in tags and current not in tags:
        raise PreconditionStale("the record is not the one you read; read it again", etag=current)


def write_cursor(key: list[Any], query: Mapping[str, Any]) -> str:
    """Write where the next page begins, bound to the query it belongs to."""
    text = json.dumps([_fingerprint(query), *key], default=str, separators=(",", ":"))
    return base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")


def read_cursor(cursor: str | None, query: Mapping[str, Any], *, length: int) -> list[Any] | None:
    """Read where this page begins.

    Raises:
        InvalidRequest: it is not a cursor of this list under this query.

    """
    if cursor is None:
        return None
    try:
        padded = cursor + "=" * (-len(cursor) % 4)
        parts = json.loads(base64.b64decode(padded.encode("ascii"), altchars=b"-_", validate=True))
        if not isinstance(parts, list) or len(parts) != length + 1 or parts[0] != _fingerprint(query):
            raise ValueError
    except (ValueError, UnicodeError, binascii.Error, RecursionError):
        fault = {"parameter": "cursor", "detail": "Not a cursor of this list under this query."}
        raise InvalidRequest("that is not a cursor of this list", errors=[fault]) from None
    return parts[1:]


def _fingerprint(query: Mapping[str, Any]) -> str:
    relevant = {name: value for name, value in query.items() if name not in ("cursor", "limit")}
    return hashlib.sha256(json.dumps(relevant, sort_keys=True, default=str).encode()).hexdigest()[:12]


def next_link(cursor: str | None) -> dict[str, str]:
    """The Link header to the next page, RFC 8288."""
    if cursor is None:
        return {}
    query = {**request.args.to_dict(), "cursor": cursor}
    return {"Link": f'<{request.path}?{urlencode(query)}>; rel="next"'}
