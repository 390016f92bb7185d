"""Laboratory methods: what each measures, of which family, and how far laboratories differ.

Figures by methods of different families are never ranked together silently: unspecific and lead methods
read otherwise than HPLC, and the distance grows as hops age.
"""

from functools import cache

from service.errors import NotFound
from service.facts import Fact
from service.reference.load import load_table

GROUPS = ("alpha_beta", "cohumulone", "hop_storage_index", "moisture", "oil", "oil_shares")
FAMILIES = frozenset(
    {"spectrophotometric", "hplc", "lead", "oven", "distillation", "gas_chromatography", "other"}
)


class Method(Fact, frozen=True):
    """One method for one group of values.

    The coefficient of variation is between laboratories, with its interval; ``mark`` says whether it was
    published. ``within_laboratory_cv_percent`` is None where nothing is published.
    """

    code: str
    group: str
    name: str
    family: str
    between_laboratory_cv_percent: float
    low: float
    high: float
    within_laboratory_cv_percent: float | None
    unit: str
    mark: str
    source: str
    words: str


@cache
def all_methods() -> tuple[Method, ...]:
    """Give every method, in the order of the table; a code stands once in each group it serves."""
    return tuple(
        Method(
            code=row.text("code"),
            group=row.one_of("group", frozenset(GROUPS)),
            name=row.text("name"),
            family=row.one_of("family", FAMILIES),
            between_laboratory_cv_percent=row.number("between_laboratory_cv_percent"),
            low=row.number("low"),
            high=row.number("high"),
            within_laboratory_cv_percent=row.number_or_none("within_laboratory_cv_percent"),
            unit=row.text("unit"),
            mark=row.text("mark"),
            source=row.text("source"),
            words=row.text("words"),
        )
        for row in load_table("methods", has_unit=True)
    )


def methods_of(group: str) -> tuple[Method, ...]:
    """Give the methods of one group; an unknown group has none.

    >>> [method.code for method in methods_of("oil")]
    ['asbc_hops_13', 'other']

    """
    return tuple(method for method in all_methods() if method.group == group)


@cache
def _by_group_and_code() -> dict[tuple[str, str], Method]:
    return {(method.group, method.code): method for method in all_methods()}


def find_method(code: str, *, group: str) -> Method | None:
    """Give the method of a group, or None where the group knows no such code.

    >>> find_method("ebc_7_5", group="cohumulone") is None
    True

    """
    return _by_group_and_code().get((group, code))


def get_method(code: str, *, group: str) -> Method:
    """Give the method of a group.

    Raises:
        NotFound: the group knows no such code.

    >>> get_method("ebc_7_5", group="alpha_beta").family
    'lead'

    """
    found = find_method(code, group=group)
    if found is None:
        known = [method.code for method in methods_of(group)]
        raise NotFound(f"there is no method {code!r} for {group}", code=code, group=group, known=known)
    return found
