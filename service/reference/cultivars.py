"""Hop cultivars, found by any of their names; and a name that fits several says so.

Some names of the trade are no cultivar's: Hallertau and Tettnang are regions, Styrian is a prefix.
`find_cultivar` gives None for them, and `ambiguity` tells which cultivars may be meant.
"""

import difflib
from functools import cache

from service.facts import Fact
from service.reference.cultivar_rows import Availability, Cultivar, Figure, all_cultivars, by_code
from service.reference.load import load_table
from service.reference.names import folds
from service.reference.storage_figures import StorageFigure

__all__ = [
    "AmbiguousName",
    "Availability",
    "Cultivar",
    "Figure",
    "StorageFigure",
    "all_cultivars",
    "ambiguity",
    "ambiguous_names",
    "by_code",
    "find_cultivar",
    "suggest",
]


class AmbiguousName(Fact, frozen=True):
    """A name that several cultivars go by."""

    name: str
    candidates: tuple[str, ...]
    words: str
    mark: str
    source: str


@cache
def ambiguous_names() -> tuple[AmbiguousName, ...]:
    """Give every name known to fit several cultivars."""
    return tuple(
        AmbiguousName(
            name=row.text("name"),
            candidates=row.parts("candidates"),
            words=row.text("words"),
            mark=row.text("mark"),
            source=row.text("source"),
        )
        for row in load_table("ambiguous_names", has_unit=False)
    )


def ambiguity(name: str) -> AmbiguousName | None:
    """Say which cultivars an ambiguous name may mean; None for any other name.

    >>> ambiguity("hallertauer").candidates
    ('Hallertauer Mittelfrueh', 'Hallertauer Magnum', 'Hallertauer Tradition')
    >>> ambiguity("Cascade") is None
    True

    """
    return next((_ambiguous_by_fold()[key] for key in folds(name) if key in _ambiguous_by_fold()), None)


def find_cultivar(name: str) -> Cultivar | None:
    """Find a cultivar by its denomination or a synonym, whatever the case, accents and punctuation.

    A denomination goes before a synonym. None means that nobody, or more than one, goes by that name.

    >>> find_cultivar("mount hood").code
    'MT-HOOD'
    >>> find_cultivar("Hallertau") is None
    True

    """
    if ambiguity(name) is not None:
        return None
    for names in (_by_denomination(), _by_synonym()):
        found = {cultivar.code: cultivar for key in folds(name) for cultivar in names.get(key, ())}
        if found:
            return next(iter(found.values())) if len(found) == 1 else None
    return None


def suggest(name: str) -> tuple[str, ...]:
    """Give up to three denominations that a mistyped or ambiguous name may mean, nearest first.

    >>> suggest("Cascad")
    ('Cascade',)

    """
    vague = ambiguity(name)
    if vague is not None:
        return vague.candidates
    denominations = _denominations_by_fold()
    near = difflib.get_close_matches(folds(name)[0], denominations, n=6, cutoff=0.75)
    return tuple(dict.fromkeys(one for key in near for one in denominations[key]))[:3]


@cache
def _ambiguous_by_fold() -> dict[str, AmbiguousName]:
    return {key: vague for vague in ambiguous_names() for key in folds(vague.name)}


@cache
def _by_denomination() -> dict[str, tuple[Cultivar, ...]]:
    return _index({cultivar.code: (cultivar.denomination,) for cultivar in all_cultivars()})


@cache
def _by_synonym() -> dict[str, tuple[Cultivar, ...]]:
    return _index({cultivar.code: cultivar.synonyms for cultivar in all_cultivars()})


def _index(names_by_code: dict[str, tuple[str, ...]]) -> dict[str, tuple[Cultivar, ...]]:
    index: dict[str, tuple[Cultivar, ...]] = {}
    for cultivar in all_cultivars():
        for key in {key for name in names_by_code[cultivar.code] for key in folds(name)}:
            index[key] = (*index.get(key, ()), cultivar)
    return index


@cache
def _denominations_by_fold() -> dict[str, tuple[str, ...]]:
    both = (_by_denomination(), _by_synonym())
    return {
        key: tuple(dict.fromkeys(c.denomination for names in both for c in names.get(key, ())))
        for key in {**both[0], **both[1]}
    }
