"""Published recoveries: how much of the alpha, oil or bitterness was found again, where and by whom.

They stand beside an estimate to show how far breweries differ; no estimate is computed from them.
"""

from functools import cache

from service.errors import NotFound
from service.facts import Fact
from service.reference.load import load_table


class Recovery(Fact, frozen=True):
    """One published figure; ``low`` and ``high`` are None where a single value was published."""

    code: str
    topic: str
    value: float
    low: float | None
    high: float | None
    unit: str
    mark: str
    source: str
    words: str


@cache
def all_recoveries() -> tuple[Recovery, ...]:
    """Give every recovery, in the order of the table."""
    return tuple(
        Recovery(
            code=row.text("code"),
            topic=row.text("topic"),
            value=row.number("value"),
            low=row.number_or_none("low"),
            high=row.number_or_none("high"),
            unit=row.text("unit"),
            mark=row.text("mark"),
            source=row.text("source"),
            words=row.text("words"),
        )
        for row in load_table("recoveries", has_unit=True)
    )


def recoveries_of(topic: str) -> tuple[Recovery, ...]:
    """Give the recoveries of one topic; an unknown topic has none.

    >>> [recovery.value for recovery in recoveries_of("whirlpool")]
    [29.9]

    """
    return tuple(recovery for recovery in all_recoveries() if recovery.topic == topic)


@cache
def _by_code() -> dict[str, Recovery]:
    return {recovery.code: recovery for recovery in all_recoveries()}


def get_recovery(code: str) -> Recovery:
    """Give one recovery.

    Raises:
        NotFound: there is no recovery with that code.

    >>> get_recovery("wort_boil_60").value
    44.0

    """
    found = _by_code().get(code)
    if found is None:
        raise NotFound(f"there is no recovery {code!r}", code=code)
    return found
