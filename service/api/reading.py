"""Reading what comes in, strictly: nothing is guessed at, nothing vanishes."""

import json
from decimal import Decimal, InvalidOperation
from typing import Any

import marshmallow as ma
from webargs.flaskparser import FlaskParser, abort


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
    except InvalidOperation:
        raise _UnreadableError("a number's exponent is beyond every measure") from None


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
