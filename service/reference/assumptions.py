"""House assumptions by name: value, interval, unit, and what they rest on.

An estimate that uses one says so by its `words`, which take their figures from the row itself
(`{value:g}`, `{low:g}`, `{high:g}`); nothing here is a measurement unless its mark says it.
"""

from functools import cache

from service.errors import NotFound
from service.facts import Fact
from service.reference.load import Row, load_table


class Assumption(Fact, frozen=True):
    """One named assumption; ``low`` to ``high`` is taken as the 5th to 95th percentile."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    mark: str
    source: str
    words: str


@cache
def all_assumptions() -> tuple[Assumption, ...]:
    """Give every assumption, in the order of the table."""
    return tuple(_assumption(row) for row in load_table("assumptions", has_unit=True))


def _assumption(row: Row) -> Assumption:
    value, low, high = (row.number(name) for name in ("value", "low", "high"))
    return Assumption(
        name=row.text("name"),
        value=value,
        low=low,
        high=high,
        unit=row.text("unit"),
        mark=row.text("mark"),
        source=row.text("source"),
        words=row.text("words").format(value=value, low=low, high=high),
    )


@cache
def _by_name() -> dict[str, Assumption]:
    return {assumption.name: assumption for assumption in all_assumptions()}


def get_assumption(name: str) -> Assumption:
    """Give one assumption.

    Raises:
        NotFound: there is no assumption of that name.

    >>> get_assumption("six_month_loss_percent").value
    33.0

    """
    found = _by_name().get(name)
    if found is None:
        raise NotFound(f"there is no assumption named {name!r}", name=name)
    return found


def sampling_cv(*, quantity: str, form: str) -> Assumption:
    """Give the scatter of a value between the packages of one lot, as one standard deviation in %.

    Args:
        quantity: ``alpha``, ``hop_storage_index``, ``oil``, ``moisture``; beta, cohumulone as alpha.
        form: ``whole_cone``, ``pellet``, ``pellet_enriched`` or ``wet_hop``.

    Raises:
        NotFound: there is no figure for that quantity and form.

    >>> sampling_cv(quantity="alpha", form="whole_cone").value
    17.5

    """
    middle = "" if quantity in {"alpha", "beta", "cohumulone"} else f"{quantity}_"
    return get_assumption(f"sampling_cv_{middle}{form}_percent")
