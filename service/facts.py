"""Facts: immutable records. Every room describes its goods with them.

A fact is a `msgspec.Struct`. It reads like a frozen dataclass and is faster to define and to make.
"""

from typing import TYPE_CHECKING

from msgspec import Struct as Fact
from msgspec import field
from msgspec.structs import asdict as as_dict
from msgspec.structs import fields as _fields

if TYPE_CHECKING:
    # The same call; this one's stub tells a type checker the fields.
    from dataclasses import replace
else:
    from msgspec.structs import replace

__all__ = ["Fact", "as_dict", "field", "field_names", "replace", "required_names"]


def field_names(kind: type[Fact]) -> tuple[str, ...]:
    """The names of a kind's fields, in the order of the class.

    >>> class Bale(Fact, frozen=True):
    ...     number: str
    ...     net_kg: float | None = None
    >>> field_names(Bale)
    ('number', 'net_kg')

    """
    return kind.__struct_fields__


def required_names(kind: type[Fact]) -> tuple[str, ...]:
    """The names of the fields without which no such fact can be made.

    >>> class Bale(Fact, frozen=True):
    ...     number: str
    ...     net_kg: float | None = None
    >>> required_names(Bale)
    ('number',)

    """
    return tuple(each.name for each in _fields(kind) if each.required)
