"""What all views share: the blueprint, pages, versions, and how answers are sent."""

import base64
import binascii
import hashlib
import json
from collections.abc import Callable, Collection, Mapping, Sequence
from copy import copy
from decimal import Decimal
from typing import Any, TypeVar, cast
from urllib.parse import urlencode

import flask_smorest as smorest
import marshmallow as ma
from flask import Response, current_app, request

from service.api.fields import AnswerBody, Body, Query, Text, Whole
from service.api.problems import PROBLEM, ProblemBody, status_of
from service.api.reading import StrictParser
from service.errors import (
    InvalidRequest,
    NotAllowed,
    NotFound,
    PreconditionNeeded,
    PreconditionStale,
    Refusal,
    TokenNeeded,
)
from service.market.people.access import ANYONE
from service.request_context import Answer, caller, create

JSON = "application/json"
MERGE_PATCH = "application/merge-patch+json"
View = Callable[..., Any]
T = TypeVar("T")
# Refusals that go together: of reading a record, of changing one.
READING = (NotFound, TokenNeeded)
CHANGING = (NotFound, TokenNeeded, NotAllowed, InvalidRequest)


class Blueprint(smorest.Blueprint):  # type: ignore[misc]  # the library has no type hints
    """A flask-smorest blueprint that parses strictly and documents this service's refusals and headers."""

    ARGUMENTS_PARSER = StrictParser()

    def arguments(self, schema: Any, *, location: str = "json", **kw: Any) -> Callable[[View], View]:
        """Declare the arguments of a view; a view without query arguments refuses every query."""
        declare = super().arguments(schema, location=location, **kw)

        def decorate(view: View) -> View:
            declared = cast(View, declare(view))
            if location == "query":
                declared.takes_query = True  # type: ignore[attr-defined]  # functools.wraps carries it outwards
            return declared

        return decorate

    def route(self, rule: str, **options: Any) -> Callable[[View], View]:
        """Register a view; its endpoint, by default its name, is its operationId."""
        register = super().route(rule, **options)

        def decorate(view: View) -> View:
            name = options.get("endpoint") or view.__name__
            return cast(View, register(self.doc(operationId=name)(view)))

        return decorate

    def refuses(self, *kinds: type[Refusal]) -> Callable[[View], View]:
        """Document the refusals of a view, by status."""
        codes_by_status: dict[int, list[str]] = {}
        for kind in kinds:
            codes_by_status.setdefault(status_of(kind), []).append(kind.code)

        def decorate(view: View) -> View:
            for status, codes in sorted(codes_by_status.items()):
                document = self.alt_response(
                    status, schema=ProblemBody, description=", ".join(codes), content_type=PROBLEM
                )
                view = document(view)
            return view

        return decorate

    def versioned(self, view: View) -> View:
        """Document that a change takes If-Match, and what it refuses without a current one."""
        return self.needs_token(
            self._with_header(
                self.refuses(PreconditionNeeded, PreconditionStale)(view),
                name="If-Match",
                schema={"type": "string"},
                description="The ETag of the record as it was read; without it the answer is 428.",
            )
        )

    def repeatable(self, view: View) -> View:
        """Document that an Idempotency-Key is taken; such a view makes something, so its caller must be known."""
        return self.needs_token(
            self._with_header(
                view,
                name="Idempotency-Key",
                schema={"type": "string", "minLength": 1, "maxLength": 200},
                description="With it, the same request sent again within 24 h gives the first answer.",
            )
        )

    def needs_token(self, view: View) -> View:
        """Mark a view whose caller must be known; that is judged before the body."""
        view.needs_token = True  # type: ignore[attr-defined]  # functools.wraps carries it outwards
        return view

    def _with_header(self, view: View, **header: Any) -> View:
        return cast(View, self.doc(parameters=[{"in": "header", **header}])(view))


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


def patch_of(
    body: type[Body], name: str, *, without: Collection[str] = (), never_null: Collection[str] = ()
) -> type[Body]:
    """The schema of a merge patch (RFC 7396) on a body: nothing is required, null removes.

    `never_null` names the fields that cannot be removed.
    """
    changed: dict[str, Any] = {"__doc__": f"A change of {body.__name__}: only what changes; null removes."}
    for field_name, field in body().fields.items():
        if field_name in without:
            continue
        twin = copy(field)
        twin.required, twin.load_default = False, ma.missing
        twin.allow_none = field_name not in never_null
        changed[field_name] = twin
    return type(name, (Body,), changed)


def judge_request() -> None:
    """Before each view: judge who calls, then the path and the query; the body is read after that.

    Codes in the path are read without regard to case.

    Raises:
        TokenNeeded: the token is not known, or the view needs one and there is none.
        InvalidRequest: a query that no view would read.
        NotFound: no code holds control characters.

    """
    view = current_app.view_functions.get(request.endpoint or "")
    if view is None or not request.path.startswith("/v1/"):
        return
    if any(isinstance(part, str) and not part.isprintable() for part in (request.view_args or {}).values()):
        raise NotFound("no code holds such characters")
    # Whether the service is well does not hang on who asks.
    if request.path != "/v1/health" and caller().role == ANYONE.role and getattr(view, "needs_token", False):
        raise TokenNeeded("this call needs the token of a known caller")
    for name, part in (request.view_args or {}).items():
        if isinstance(part, str) and (name == "code" or name.endswith("_code")):
            (request.view_args or {})[name] = part.upper()
    if request.args and not getattr(view, "takes_query", False):
        faults = [{"parameter": name, "detail": "This parameter is not known here."} for name in request.args]
        raise InvalidRequest("this call takes no parameters", errors=faults)


def json_response(body: Any, *, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """Send a body that is plain JSON already."""
    return Response(to_text(body), status=status, mimetype=JSON, headers=dict(headers or {}))


def to_text(body: Any) -> str:
    """Write a body as JSON."""
    return json.dumps(body, ensure_ascii=False, allow_nan=False, default=_plain) + "\n"


def _plain(value: object) -> object:
    if isinstance(value, Decimal):
        return float(value)
    raise TypeError(f"{type(value).__name__} cannot be written as JSON")


def respond(answer: Answer) -> Response:
    """Send an answer that was written inside the transaction."""
    return Response(answer.text, status=answer.status, mimetype=JSON, headers=answer.headers)


def json_answer(body: Any, *, status: int = 201, headers: Mapping[str, str] | None = None) -> Answer:
    """Write an answer inside the transaction, so that it can be kept for a repeated request."""
    return Answer(text=to_text(body), status=status, headers=dict(headers or {}))


def creation_response(
    do: Callable[[Any], T],
    dump: Callable[[T], Any],
    *,
    status: int = 201,
    headers: Callable[[T], Mapping[str, str]] | None = None,
) -> Response:
    """Do what a use case does, once for an Idempotency-Key, and answer with what came of it.

    Args:
        do: the use case; it runs in one transaction.
        dump: what it returned as plain JSON.
        status: the status of the answer.
        headers: further headers, made of what it returned.

    """

    def work(session: Any) -> Answer:
        made = do(session)
        return json_answer(dump(made), status=status, headers=headers(made) if headers else None)

    return respond(create(work))


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
        if not all(map(_may_be_a_key, parts[1:])):
            raise ValueError
    except (ValueError, UnicodeError, binascii.Error, RecursionError):
        raise _not_a_cursor() from None
    return parts[1:]


def _not_a_cursor() -> InvalidRequest:
    fault = {"parameter": "cursor", "detail": "Not a cursor of this list under this query."}
    return InvalidRequest("that is not a cursor of this list", errors=[fault])


def _may_be_a_key(part: Any) -> bool:
    # A forged cursor must not bring into the database what the database cannot hold.
    if isinstance(part, str):
        return 0 < len(part) <= 100 and part.isprintable()
    if isinstance(part, bool) or not isinstance(part, int | float | None):
        return False
    return part is None or -(2**62) < part < 2**62


def _fingerprint(query: Mapping[str, Any]) -> str:
    relevant = {name: value for name, value in query.items() if name not in ("cursor", "limit")}
    return hashlib.sha256(json.dumps(relevant, sort_keys=True, default=str).encode()).hexdigest()[:12]


def read_position(query: Mapping[str, Any], *kinds: type, bound_to: Mapping[str, Any] | None = None) -> Any:
    """Read the key of the last item of the page before, as a tuple of these kinds; None on the first page.

    Raises:
        InvalidRequest: it is not a cursor of this list under this query.

    """
    parts = read_cursor(query["cursor"], query if bound_to is None else bound_to, length=len(kinds))
    if parts is None:
        return None
    if not all(isinstance(part, kind) for part, kind in zip(parts, kinds, strict=True)):
        raise _not_a_cursor()
    return tuple(parts)


def page_response(
    found: Sequence[Any],
    *,
    query: Mapping[str, Any],
    key: Callable[[Any], Sequence[Any]],
    dump: Callable[[Sequence[Any]], Any],
    bound_to: Mapping[str, Any] | None = None,
    **beside: Any,
) -> Response:
    """Answer with one page of `found`, which holds one item more than asked for where another page follows.

    Args:
        found: the items from the position on.
        query: the query as `PageQuery` read it.
        key: the position of an item.
        dump: items as plain JSON.
        bound_to: what the cursor is bound to, where that is not the whole query.
        beside: further members of the answer.

    """
    items = found[: query["limit"]]
    cursor = None
    if len(found) > len(items):
        cursor = write_cursor(list(key(items[-1])), query if bound_to is None else bound_to)
    return json_response({"items": dump(items), "next": cursor, **beside}, headers=next_link(cursor))


def next_link(cursor: str | None) -> dict[str, str]:
    """The Link header to the next page, RFC 8288."""
    if cursor is None:
        return {}
    query = {**request.args.to_dict(), "cursor": cursor}
    return {"Link": f'<{request.path}?{urlencode(query)}>; rel="next"'}
