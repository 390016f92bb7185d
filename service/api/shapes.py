"""The schemas all schemas descend from: what comes in, what is asked, what goes out."""

from collections import defaultdict
from typing import Any

import marshmallow as ma
from marshmallow.schema import SchemaMeta


class _OfShapes(SchemaMeta):
    """Looks for a schema's processors only where there may be some: the library goes through all it inherits."""

    def resolve_hooks(self) -> dict[str, list[tuple[str, bool, dict[str, Any]]]]:
        """The processors of a schema, by when they are called."""
        own = any(hasattr(value, "__marshmallow_hook__") for value in vars(self).values())
        inherited = getattr(self.__base__, "_hooks", None)
        if own or inherited is None or len(self.__bases__) > 1:
            return super().resolve_hooks()
        return defaultdict(list, {tag: list(hooks) for tag, hooks in inherited.items()})


class Shape(ma.Schema, metaclass=_OfShapes):
    """A schema that is shared and never changed, so that a copy of a view's note need not copy it."""

    def __deepcopy__(self, _memo: dict[int, Any]) -> "Shape":
        return self


class Body(Shape):
    """What comes in: a field that is not known is refused, so that a mistyped name never vanishes."""

    class Meta:
        """Unknown fields are refused."""

        unknown = ma.RAISE

    error_messages = {"unknown": "This field is not known here.", "type": "An object is wanted."}  # noqa: RUF012


class Query(Body):
    """What comes in after the question mark."""


class AnswerBody(Shape):
    """What goes out."""
