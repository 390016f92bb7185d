"""Facts: light records that never change once they are made; what every room describes its goods with.

A fact is a `msgspec.Struct`. It is written, read, compared and shown as a frozen dataclass is, is defined in a
thirtieth of the time, which some 230 of them pay whenever the house starts, and made in a fraction of it.
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
