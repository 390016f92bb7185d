"""The contract all views share: strict reading, one way of answering, pages, versions."""

import base64
import binascii
import hashlib
import json
from collections.abc import Callable, Mapping
from copy import deepcopy
from decimal import Decimal
from typing import Any, cast
from urllib.parse import urlencode

import marshmallow as ma
from flask import Response, current_app, request
from flask_smorest import Blueprint

from service.api.fields import AnswerBody, Body, Query, Text, Whole
from service.api.late_views import LateView, View, late
from service.api.problems import PROBLEM, ProblemBody, status_of
from service.api.reading import StrictParser
from service.errors import InvalidRequest, NotFound, PreconditionNeeded, PreconditionStale, Refusal
from service.visit import Answer

JSON = "application/json"
MERGE_PATCH = "application/merge-patch+json"


class Door(Blueprint):  # type: ignore[misc]  # the library has no type hints
    """A shelf of views under one address."""

    ARGUMENTS_PARSER = StrictParser()

    def __init__(self, *args: Any, **kw: Any) -> None:
        super().__init__(*args, **kw)
        self._untold: list[tuple[str, LateView, Any, Any, dict[str, Any]]] = []

    def arguments(self, schema: Any, *, location: str = "json", **kw: Any) -> Callable[[View], LateView]:
        """Say what a view takes; one that takes no query is marked by not being marked."""

        def note(view: View) -> View:
            made = schema() if isinstance(schema, type) else schema
            return cast(View, super(Door, self).arguments(made, location=location, **kw)(view))

        def mark(view: View) -> LateView:
            noted = _noted(view, note)
            noted.takes_query = noted.takes_query or location == "query"
            return noted

        return mark

    def response(self, *args: Any, **kw: Any) -> Callable[[View], LateView]:
        """Say what a view gives."""
        return lambda view: _noted(view, lambda plain: super(Door, self).response(*args, **kw)(plain))

    def alt_response(self, *args: Any, **kw: Any) -> Callable[[View], LateView]:
        """Say what else a view gives."""
        return lambda view: _noted(view, lambda plain: super(Door, self).alt_response(*args, **kw)(plain))

    def doc(self, **told: Any) -> Callable[[View], LateView]:
        """Say something of a view in the document."""
        return lambda view: _noted(view, lambda plain: super(Door, self).doc(**told)(plain))

    def _store_endpoint_docs(
        self, endpoint: str, obj: Any, parameters: Any, tags: Any, **options: Any
    ) -> None:
        self._untold.append((endpoint, late(obj), parameters, tags, options))

    def tell(self) -> None:
        """Work out what the document says of each view."""
        untold, self._untold = self._untold, []
        for endpoint, view, parameters, tags, options in untold:
            made = view.made()
            super()._store_endpoint_docs(endpoint, made, parameters, tags, **options)
            for method in options.get("methods", ("GET",)):
                # A view's name is its operationId, unless the view says otherwise.
                doc = self._docs[endpoint][method.lower()]
                doc["manual_doc"] = {"operationId": made.__name__, **doc.get("manual_doc", {})}

    def refuses(self, *kinds: type[Refusal]) -> Callable[[View], LateView]:
        """Say in the document which refusals a view can give."""
        by_status: dict[int, list[str]] = {}
        for kind in kinds:
            by_status.setdefault(status_of(kind), []).append(kind.code)

        def note(view: Any) -> Any:
            # Written once for all of them: the library's own decorator would copy the whole note, and wrap the
            # view once more, for each.
            told = deepcopy(getattr(view, "_apidoc", {}))
            responses = told.setdefault("response", {}).setdefault("responses", {})
            for status, codes in sorted(by_status.items()):
                note = {"schema": ProblemBody, "description": ", ".join(codes), "content_type": PROBLEM}
                responses.setdefault(status, []).append(note)
            view._apidoc = told
            return view

        return lambda view: _noted(view, note)

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


def _noted(view: View, note: Callable[[View], View]) -> LateView:
    noted = late(view)
    noted.note(note)
    return noted


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


def refuse_what_no_view_reads() -> None:
    """Before each view: no query where none is taken, and no address that no database could hold.

    Raises:
        InvalidRequest: a query that would vanish.
        NotFound: nothing has a name with control characters.

    """
    view = current_app.view_functions.get(request.endpoint or "")
    if view is None or not request.path.startswith("/v1/"):
        return
    if any(isinstance(part, str) and not part.isprintable() for part in (request.view_args or {}).values()):
        raise NotFound("no code holds such characters")
    if request.args and not getattr(view, "takes_query", False):
        faults = [{"parameter": name, "detail": "This parameter is not known here."} for name in request.args]
        raise InvalidRequest("this call takes no parameters", errors=faults)


def speak(body: Any, *, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """Send a body that is plain already."""
    return Response(to_text(body), status=status, mimetype=JSON, headers=dict(headers or {}))


def to_text(body: Any) -> str:
    """Write a body as JSON."""
    return json.dumps(body, ensure_ascii=False, allow_nan=False, default=_plain) + "\n"


def _plain(value: object) -> object:
    if isinstance(value, Decimal):
        return float(value)
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
        if not all(map(_may_be_a_key, parts[1:])):
            raise ValueError
    except (ValueError, UnicodeError, binascii.Error, RecursionError):
        fault = {"parameter": "cursor", "detail": "Not a cursor of this list under this query."}
        raise InvalidRequest("that is not a cursor of this list", errors=[fault]) from None
    return parts[1:]


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


def next_link(cursor: str | None) -> dict[str, str]:
    """The Link header to the next page, RFC 8288."""
    if cursor is None:
        return {}
    query = {**request.args.to_dict(), "cursor": cursor}
    return {"Link": f'<{request.path}?{urlencode(query)}>; rel="next"'}
