"""The schemas all schemas descend from."""

from collections.abc import Iterator, Mapping
from typing import Any

from marshmallow.schema import SchemaMeta

from service.api import documents  # noqa: F401 -- loads every schema
from service.api.shapes import Shape


def descendants(kind: type[Shape]) -> Iterator[type[Shape]]:
    for own in kind.__subclasses__():
        yield own
        yield from descendants(own)


def told(hooks: Mapping[str, Any]) -> dict[str, Any]:
    """The processors; to have asked for some that are not there leaves an empty list behind."""
    return {tag: those for tag, those in hooks.items() if those}


def test_every_schema_has_the_processors_that_the_library_would_find() -> None:
    kinds = list(descendants(Shape))

    assert len(kinds) > 200
    assert any(kind._hooks for kind in kinds)
    assert [kind for kind in kinds if told(kind._hooks) != told(SchemaMeta.resolve_hooks(kind))] == []
