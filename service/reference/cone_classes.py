"""The classes into which a sample of cones is sorted, unless a region's specialist set others."""

from functools import cache

from service.facts import Fact
from service.reference.load import load_table


class ConeClass(Fact, frozen=True, kw_only=True):
    """One class: its code, its name, and what a cone in it looks like."""

    code: str
    name: str
    words: str = ""


@cache
def shipped_cone_classes() -> tuple[ConeClass, ...]:
    """Give the shipped classes, in the order in which they are shown.

    >>> [shipped.code for shipped in shipped_cone_classes()][:3]
    ['ripe', 'under_ripe', 'over_ripe']

    """
    return tuple(
        ConeClass(code=row.text("code"), name=row.text("name"), words=row.text("words"))
        for row in load_table("cone_classes", has_unit=False)
    )
