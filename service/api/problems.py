"""RFC 9457: the one shape in which the door says no."""

import json
import logging
from collections.abc import Iterator
from decimal import Decimal
from typing import Any
from urllib.parse import quote

import marshmallow as ma
from flask import Flask, Response, request
from werkzeug.exceptions import HTTPException

from service.api.fields import AnswerBody
from service.api.statuses import STATUS
from service.errors import InvalidRequest, Refusal

PROBLEM = "application/problem+json"
log = logging.getLogger(__name__)

# Our own words, so that the document is the same under every Python.
TITLES = {
    400: "The request cannot be read",
    401: "A known token is needed",
    403: "This token may not do that",
    404: "There is no such thing here",
    405: "This address does not take that verb",
    408: "The request took too long",
    409: "The state of things does not allow that",
    411: "The length of the body is missing",
    412: "The record changed meanwhile",
    413: "The body is too large",
    414: "The address is too long",
    415: "That kind of body is not taken here",
    422: "The request is not in the form this call takes",
    428: "If-Match is needed",
    431: "The headers are too large",
    500: "The service failed",
    503: "The service is busy",
}


class FaultBody(AnswerBody):
    """One fault in a request."""

    pointer = ma.fields.String(metadata={"description": "JSON pointer (RFC 6901) into the body"})
    parameter = ma.fields.String(metadata={"description": "Name of the query, path or header parameter"})
    detail = ma.fields.String(required=True)


class ProblemBody(AnswerBody):
    """Problem details, RFC 9457; the facts of the refusal stand beside these members."""

    class Meta:
        """Facts may follow."""

        unknown = ma.INCLUDE

    type = ma.fields.String(required=True, metadata={"format": "uri-reference"})
    title = ma.fields.String(required=True)
    status = ma.fields.Integer(required=True, metadata={"minimum": 400, "maximum": 599})
    detail = ma.fields.String(required=True)
    instance = ma.fields.String(required=True, metadata={"format": "uri-reference"})
    errors = ma.fields.List(ma.fields.Nested(FaultBody))


def speak_problem(
    *, code: str | None, title: str, status: int, detail: str, facts: dict[str, Any] | None = None
) -> Response:
    """Build one problem; without a code the status says it all."""
    body = {
        "type": f"/problems/{code}" if code else "about:blank",
        "title": title,
        "status": status,
        "detail": detail,
        "instance": quote(request.path, safe="/:@!$&'()*+,;=-._~"),
        **(facts or {}),
    }
    text = json.dumps(body, default=_plain, ensure_ascii=False, allow_nan=False)
    # A half of a surrogate pair that came in as a name goes out as the escape it came in by.
    text = text.encode("utf-8", "backslashreplace").decode()
    answer = Response(text + "\n", status=status, mimetype=PROBLEM)
    if status == 401:
        answer.headers["WWW-Authenticate"] = 'Bearer realm="oastbook"'
    if status == 503:
        answer.headers["Retry-After"] = "1"
    return answer


def _plain(value: object) -> object:
    return float(value) if isinstance(value, Decimal) else str(value)


def refusal_problem(refusal: Refusal) -> Response:
    """Answer a refusal of the house."""
    return speak_problem(
        code=refusal.code,
        title=refusal.title,
        status=status_of(type(refusal)),
        detail=refusal.detail,
        facts=refusal.facts,
    )


def status_of(kind: type[Refusal]) -> int:
    """The status of a refusal, or of the nearest one it descends from."""
    return next((STATUS[base] for base in kind.__mro__ if base in STATUS), 422)


def bug_problem(bug: Exception) -> Response:
    """Apologise plainly to the caller, and tell the story to the log."""
    log.error("unexpected failure at %s %s", request.method, request.path, exc_info=bug)
    return speak_problem(
        code=None, title=TITLES[500], status=500, detail="Something went wrong here. Nothing was changed."
    )


def faults_of(messages: Any) -> list[dict[str, str]]:
    """Write the schema's messages as faults with a pointer or a parameter."""
    faults = []
    for path, text in _flat(messages):
        location, *rest = path or ("json",)
        names = [name for name in rest if name not in ("_schema", "key", "value")]
        if location == "json":
            escaped = [name.replace("~", "~0").replace("/", "~1") for name in names]
            faults.append({"pointer": "#" + "".join(f"/{name}" for name in escaped), "detail": text})
        else:
            faults.append({"parameter": ".".join(names) or location, "detail": text})
    return faults


def _flat(messages: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str]]:
    if isinstance(messages, dict):
        for name, inner in messages.items():
            yield from _flat(inner, (*path, str(name)))
    elif isinstance(messages, list | tuple):
        for inner in messages:
            yield from _flat(inner, path)
    else:
        yield path, str(messages)


def http_problem(error: HTTPException) -> Response:
    """Answer what the framework itself refuses."""
    if error.response is not None:
        return error.response  # type: ignore[return-value]  # a redirect that was made whole elsewhere
    code = error.code or 500
    if 300 <= code < 400:
        return error.get_response(request.environ)  # type: ignore[return-value]  # a redirect to the slash
    data = getattr(error, "data", None) or {}
    messages = data.get("errors") or data.get("messages")
    if code == 422 and messages:
        answer = invalid_problem(faults_of(messages))
    else:
        answer = speak_problem(
            code=None,
            title=TITLES.get(code, error.name),
            status=code,
            detail=data.get("message") or error.description or TITLES.get(code, error.name),
        )
    for name, value in error.get_headers(request.environ):
        if name.lower() in ("allow", "retry-after"):
            answer.headers[name] = value
    return answer


def invalid_problem(faults: list[dict[str, str]]) -> Response:
    """Answer a request that does not fit its schema."""
    return speak_problem(
        code=InvalidRequest.code,
        title=InvalidRequest.title,
        status=422,
        detail="; ".join(
            f"{fault.get('pointer') or fault.get('parameter')}: {fault['detail']}" for fault in faults[:5]
        ),
        facts={"errors": faults},
    )


def register(app: Flask) -> None:
    """Let the app answer every kind of no in this shape."""
    app.register_error_handler(Refusal, refusal_problem)
    app.register_error_handler(HTTPException, http_problem)
    app.register_error_handler(Exception, bug_problem)
