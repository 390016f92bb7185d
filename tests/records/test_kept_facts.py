"""Facts that are kept whole."""

import json
from datetime import UTC, date, datetime
from decimal import Decimal

from service.facts import Fact
from service.records.kept_facts import keep, recall


class Inner(Fact, frozen=True, kw_only=True):
    mass_kg: Decimal
    on: date | None = None


class Outer(Fact, frozen=True, kw_only=True):
    parts: tuple[Inner, ...]
    words: tuple[str, ...]
    at: datetime
    share: float
    note: str | None = None


def test_a_fact_comes_back_as_it_was_through_json() -> None:
    fact = Outer(
        parts=(Inner(mass_kg=Decimal("12.345"), on=date(2026, 11, 25)), Inner(mass_kg=Decimal(1))),
        words=("a", "b"),
        at=datetime(2026, 11, 25, 9, 30, tzinfo=UTC),
        share=0.1,
    )

    assert recall(Outer, json.loads(json.dumps(keep(fact)))) == fact
