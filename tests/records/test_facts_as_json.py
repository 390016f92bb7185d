"""Facts that one column holds as JSON."""

import json
from datetime import UTC, date, datetime
from decimal import Decimal

from msgspec import convert, to_builtins

from service.facts import Fact


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

    assert convert(json.loads(json.dumps(to_builtins(fact))), Outer) == fact


def test_a_fact_comes_back_as_earlier_versions_kept_it() -> None:
    kept = {
        "parts": [{"mass_kg": "12.340", "on": "2026-11-25"}],
        "words": ["a"],
        "at": "2026-11-25T09:30:00+00:00",
        "share": 1,
        "a_field_of_before": 3,
    }

    fact = convert(kept, Outer)

    assert fact.at == datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
    assert str(fact.parts[0].mass_kg) == "12.340"
    assert fact.note is None
