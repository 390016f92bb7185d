"""Seeded or seedless: the wordings of the acts, and where and when each is known to hold."""

from datetime import date

import pytest

from service.reference.seed_wordings import all_wordings, wording_in

WORDINGS = {wording.rule: wording for wording in all_wordings()}


@pytest.mark.parametrize(
    ("rule", "seed_percent", "word"),
    [
        ("2024/602", 1.9, "seedless"),
        ("2024/602", 2.0, "seedless"),
        ("2024/602", 2.01, "seeded"),
        ("1850/2006", 2.0, "seedless"),
        ("1850/2006 in Great Britain", 2.0, "seedless"),
        ("1295/2008", 1.99, "seedless"),
        ("1295/2008", 2.0, "seeded"),
    ],
)
def test_at_exactly_two_percent_the_wordings_differ(rule: str, seed_percent: float, word: str) -> None:
    """Art. 2 of (EU) 2024/602: "not exceeding 2 %"; (EC) 1295/2008, Annex IV: less than 2 %."""
    assert WORDINGS[rule].word_for(seed_percent) == word


@pytest.mark.parametrize(
    ("country", "subdivision", "on", "rule"),
    [
        ("DE", None, date(2024, 3, 5), "1850/2006"),
        ("DE", None, date(2024, 3, 6), "2024/602"),
        ("CZ", None, date(2026, 9, 1), "2024/602"),
        ("GB", None, date(2026, 9, 1), "1850/2006 in Great Britain"),
        ("GB", "GB-KEN", date(2026, 9, 1), "1850/2006 in Great Britain"),
        ("GB", "GB-NIR", date(2026, 9, 1), None),
        ("GB", None, date(2020, 9, 1), None),
        ("US", None, date(2022, 5, 6), "1295/2008"),
        ("US", None, date(2022, 5, 7), None),
        ("CA", "CA-NS", date(2026, 9, 1), None),
    ],
)
def test_a_wording_holds_by_country_and_day(
    country: str, subdivision: str | None, on: date, rule: str | None
) -> None:
    found = wording_in(country, subdivision, on)

    assert (found.rule if found else None) == rule


def test_every_wording_was_read_in_its_act() -> None:
    assert {wording.mark for wording in all_wordings()} == {"read"}
    assert all("Regulation" in wording.source for wording in all_wordings())
