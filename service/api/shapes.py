"""The schemas all schemas descend from: what comes in, what is asked, what goes out."""

from typing import Any

import marshmallow as ma


class Shape(ma.Schema):
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
