"""Facts that are kept whole."""

import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal

from service.records.kept_facts import keep, recall


@dataclass(frozen=True)
class Inner:
    mass_kg: Decimal
    on: date | None = None


@dataclass(frozen=True)
class Outer:
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
