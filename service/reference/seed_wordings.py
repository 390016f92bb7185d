"""When hops may be called seedless: the wordings of the acts, by region and by the days on which they
hold.

Where no wording was read for a place and a day, none is given: the percentage stands alone. (EC) 1295/2008
on imports is no longer in force and what replaced it was not read, so hops from elsewhere get no wording.
"""

from datetime import date
from functools import cache

from service.facts import Fact
from service.reference.load import load_table

# Member States of the European Union; Northern Ireland is left out of Great Britain.
EUROPEAN_UNION = frozenset(
    {"AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU"}
    | {"IE", "IT", "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK"}
)
COMPARISONS = frozenset({"at_most", "under"})


class SeedWording(Fact, frozen=True, kw_only=True):
    """One act's wording: seedless are hops with at most, or with under, so many percent of seeds."""

    rule: str
    region: str
    begins_on: date
    ends_on: date | None
    seedless: str
    limit_percent: float
    unit: str
    scope: str
    mark: str
    source: str

    def word_for(self, seed_percent: float) -> str:
        """Name hops of so many percent of seeds.

        >>> {wording.rule: wording.word_for(2.0) for wording in all_wordings() if wording.region != "GB"}
        {'2024/602': 'seedless', '1850/2006': 'seedless', '1295/2008': 'seeded'}

        """
        under = seed_percent < self.limit_percent
        at = seed_percent == self.limit_percent and self.seedless == "at_most"
        return "seedless" if under or at else "seeded"


@cache
def all_wordings() -> tuple[SeedWording, ...]:
    """Give every wording that was read, in the order of the table."""
    return tuple(
        SeedWording(
            rule=row.text("rule"),
            region=row.one_of("region", frozenset({"EU", "GB", "third"})),
            begins_on=date.fromisoformat(row.text("from")),
            ends_on=date.fromisoformat(until) if (until := row.text_or_none("until")) else None,
            seedless=row.one_of("seedless", COMPARISONS),
            limit_percent=row.number("limit_percent"),
            unit=row.text("unit"),
            scope=row.text("scope"),
            mark=row.text("mark"),
            source=row.text("source"),
        )
        for row in load_table("seed_wordings", has_unit=True)
    )


def wording_in(country: str, subdivision: str | None, on: date) -> SeedWording | None:
    """Give the wording for hops of a country on a day; None where none was read.

    >>> wording_in("DE", None, date(2026, 9, 1)).rule
    '2024/602'
    >>> wording_in("US", None, date(2026, 9, 1)) is None
    True

    """
    if subdivision == "GB-NIR":
        return None
    region = "EU" if country in EUROPEAN_UNION else "GB" if country == "GB" else "third"
    for wording in all_wordings():
        if wording.region == region and wording.begins_on <= on <= (wording.ends_on or on):
            return wording
    return None
