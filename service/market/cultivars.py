"""What a cultivar is called, and under which key lots of it are found."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from service.errors import InvalidRequest
from service.reference import cultivars as books
from service.reference.names import fold, folds


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionalCultivar:
    """A cultivar that the region added to the books."""

    code: str
    denomination: str
    synonyms: tuple[str, ...]
    role: str
    source: str
    figures: tuple[Mapping[str, object], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CultivarStatus:
    """Who may plant a cultivar in one country, as somebody found it on a day."""

    cultivar_code: str
    country: str
    status: str
    source: str
    checked_on: date


@dataclass(frozen=True, slots=True)
class NamedCultivar:
    """A cultivar as a lot names it; without a code the service does not know it."""

    denomination: str
    code: str | None
    key: str
    role: str | None


def name_cultivar(name: str, regional: Sequence[RegionalCultivar]) -> NamedCultivar:
    """Find out which cultivar a name stands for; one that nobody knows is welcome as it is written.

    Raises:
        InvalidRequest: the name fits several cultivars, or holds no letter.

    >>> name_cultivar("mount hood", []).denomination
    'Mt. Hood'
    >>> name_cultivar("Own Seedling 7", [])
    NamedCultivar(denomination='Own Seedling 7', code=None, key='ownseedling7', role=None)

    """
    known = books.find_cultivar(name)
    if known is not None:
        return NamedCultivar(known.denomination, known.code, known.code, known.role)
    keys = set(folds(name))
    for added in regional:
        if any(keys & set(folds(n)) for n in (added.denomination, *added.synonyms)):
            return NamedCultivar(added.denomination, added.code, added.code, added.role)
    vague = books.ambiguity(name)
    if vague is not None:
        text = f"{name} may be {', '.join(vague.candidates)}: {vague.words}"
        raise InvalidRequest(text, errors=[{"pointer": "#/cultivar", "detail": text}])
    if not fold(name):
        raise InvalidRequest(
            "a cultivar's name holds letters or digits",
            errors=[{"pointer": "#/cultivar", "detail": "Letters or digits are wanted."}],
        )
    return NamedCultivar(name.strip(), None, fold(name), None)


def keys_for_search(name: str, regional: Sequence[RegionalCultivar]) -> tuple[str, ...]:
    """The keys under which lots of that name may be found; an ambiguous name finds all it may mean.

    >>> keys_for_search("Cascade", [])
    ('CASCADE',)

    """
    vague = books.ambiguity(name)
    if vague is not None:
        found = (books.find_cultivar(candidate) for candidate in vague.candidates)
        return tuple(cultivar.code for cultivar in found if cultivar)
    return (name_cultivar(name, regional).key,)
