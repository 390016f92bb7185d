"""What a cultivar is called, and under which key lots of it are found.

A name that fits several cultivars is refused when a lot is drafted: "Hallertau" is a region. The refusal
lists what may be meant; a search by such a name finds all of them. A lot made of several cultivars has
none: callers read null. Inside, the name is one reserved word, so that no column has to be empty; no lot
can be drafted under it, and a search by cultivar does not find it.
"""

from collections.abc import Iterator, Sequence
from datetime import date
from difflib import get_close_matches

from service.errors import InvalidRequest
from service.facts import Fact
from service.market.goods.lots import BLEND
from service.reference import cultivars as books
from service.reference.cultivars import Cultivar, Figure
from service.reference.names import fold, folds

NEAR_MAX = 3
NEAR_FROM_LIKENESS = 0.75


class RegionalCultivar(Fact, frozen=True, kw_only=True):
    """A cultivar that the region added to the books."""

    code: str
    denomination: str
    synonyms: tuple[str, ...]
    role: str
    source: str
    figures: tuple[Figure, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The denomination and the synonyms."""
        return self.denomination, *self.synonyms

    @property
    def keys(self) -> frozenset[str]:
        """Every folding of every name."""
        return frozenset(key for name in self.names for key in folds(name))


class CultivarStatus(Fact, frozen=True, kw_only=True):
    """Who may plant a cultivar in one country, as somebody found it on a day."""

    cultivar_code: str
    country: str
    status: str
    source: str
    checked_on: date


class NamedCultivar(Fact, frozen=True):
    """A cultivar as a lot names it; without a code the service does not know it."""

    denomination: str
    code: str | None
    key: str
    role: str | None


def name_cultivar(name: str, regional: Sequence[RegionalCultivar]) -> NamedCultivar:
    """Find out which cultivar a name stands for; one that nobody knows is welcome as it is written.

    Raises:
        InvalidRequest: the name fits several cultivars or none, or holds no letter.

    >>> name_cultivar("mount hood", []).denomination
    'Mt. Hood'
    >>> name_cultivar("Own Seedling 7", [])
    NamedCultivar(denomination='Own Seedling 7', code=None, key='ownseedling7', role=None)

    """
    if fold(name) == BLEND:
        text = "a lot of several cultivars is made by blending lots; it has no cultivar of its own"
        raise InvalidRequest(text, errors=[{"pointer": "#/cultivar", "detail": text}])
    known = books.find_cultivar(name)
    if known is not None:
        return NamedCultivar(known.denomination, known.code, known.code, known.role)
    for added in _regional_named(name, regional):
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

    A lot may be older than the entry of its cultivar in the region's books: it then stands under the name as
    its grower wrote it, and is found all the same.

    >>> keys_for_search("Cascade", [])
    ('CASCADE',)

    """
    vague = books.ambiguity(name)
    if vague is not None:
        found = (books.find_cultivar(candidate) for candidate in vague.candidates)
        return tuple(cultivar.code for cultivar in found if cultivar)
    named = name_cultivar(name, regional)
    written = (sorted(added.keys) for added in regional if added.code == named.code)
    return tuple(dict.fromkeys((named.key, *(key for keys in written for key in keys))))


def codes_of_name(name: str, regional: Sequence[RegionalCultivar]) -> tuple[frozenset[str], tuple[str, ...]]:
    """The codes of every cultivar a name may mean, and what its reader should know.

    An ambiguous name gives all its candidates; a name that nobody knows gives none, and names that are near.

    >>> codes_of_name("Cascad", [])[1]
    ('No cultivar here goes by the name Cascad. Near names: Cascade.',)

    """
    vague = books.ambiguity(name)
    shipped = books.find_cultivar(name)
    codes = {added.code for added in _regional_named(name, regional)}
    if shipped is not None:
        codes.add(shipped.code)
    if vague is not None:
        codes |= set(keys_for_search(name, ()))
        said = vague.mark if vague.mark.startswith(vague.source) else f"{vague.source}, {vague.mark}"
        return frozenset(codes), (f"{name} may be {' or '.join(vague.candidates)}: {vague.words} ({said})",)
    return frozenset(codes), () if codes else (unknown_words(name, regional),)


def _regional_named(name: str, regional: Sequence[RegionalCultivar]) -> Iterator[RegionalCultivar]:
    wanted = set(folds(name)) - {""}
    return (added for added in regional if wanted & added.keys)


def find_known(name: str, regional: Sequence[RegionalCultivar]) -> Cultivar | RegionalCultivar | None:
    """The cultivar that goes by that name, of those that ship or that the region added; None if nobody knows it.

    >>> find_known("mount hood", []).code
    'MT-HOOD'

    """
    return books.find_cultivar(name) or next(_regional_named(name, regional), None)


def unknown_words(name: str, regional: Sequence[RegionalCultivar]) -> str:
    """That nobody knows a name, and which are near.

    >>> unknown_words("Cascad", [])
    'No cultivar here goes by the name Cascad. Near names: Cascade.'

    """
    denominations = {key: added.denomination for added in regional for key in added.keys}
    near = get_close_matches(fold(name), denominations, n=NEAR_MAX, cutoff=NEAR_FROM_LIKENESS)
    both = dict.fromkeys((*books.suggest(name), *(denominations[key] for key in near)))
    said = f"Near names: {', '.join(both)}." if both else "No name here is near to it."
    return f"No cultivar here goes by the name {name}. {said}"
