"""Facts as JSON and back again, by the types they declare: for what is kept whole and never searched in."""

import types
import typing
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from typing import Any, TypeVar

from service.facts import Fact, field_names

T = TypeVar("T")


def keep(fact: Any) -> Any:
    """A fact as JSON can hold it; goods and money stay exact, as text."""
    if isinstance(fact, Fact):
        return {name: keep(getattr(fact, name)) for name in field_names(type(fact))}
    if isinstance(fact, tuple | list):
        return [keep(part) for part in fact]
    if isinstance(fact, Decimal):
        return str(fact)
    if isinstance(fact, date):
        return fact.isoformat()
    return fact


def recall(kind: type[T], kept: Any) -> T:
    """The fact of a kind that was kept.

    >>> recall(Decimal, keep(Decimal("1.50")))
    Decimal('1.50')

    """
    return typing.cast(T, _recalled(kind, kept))


def _recalled(kind: Any, kept: Any) -> Any:
    origin = typing.get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        if kept is None:
            return None
        return _recalled(next(one for one in typing.get_args(kind) if one is not type(None)), kept)
    if origin is tuple:
        part = typing.get_args(kind)[0]
        return tuple(_recalled(part, one) for one in kept)
    if isinstance(kind, type) and issubclass(kind, Fact):
        hints = _hints(kind)
        # A field that the fact no longer has is passed over.
        return kind(**{name: _recalled(hints[name], kept[name]) for name in hints if name in kept})
    if kind is Decimal:
        return Decimal(kept)
    if kind in (datetime, date):
        return kind.fromisoformat(kept)
    return kept


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return typing.get_type_hints(kind)
