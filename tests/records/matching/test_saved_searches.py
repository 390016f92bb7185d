"""Saved searches in the books, on both databases."""

from decimal import Decimal

import pytest

from service.errors import NotFound
from service.market.trade.notices import SavedSearch
from service.records.matching import saved_searches
from service.records.session import Session
from tests.factories import NOW, PartyRowFactory


def test_a_saved_search_comes_back_exactly_and_goes(session: Session) -> None:
    PartyRowFactory(kind="brewery", code="FINCH")
    saved = SavedSearch(
        code="FINCH-ASK-01",
        brewery_code="FINCH",
        name="dry aroma nearby",
        filters={"role": "aroma", "free_kg_min": Decimal("20.125"), "alpha_percent_max": 7.5, "known": True},
        made_at=NOW,
        made_by="brewery:FINCH",
    )
    saved_searches.add(session, saved)

    assert saved_searches.get(session, "FINCH-ASK-01") == saved
    assert saved_searches.search(session, brewery_code="FINCH") == [saved]
    assert saved_searches.search(session, brewery_code="TEAL") == []
    saved_searches.remove(session, "FINCH-ASK-01")
    with pytest.raises(NotFound):
        saved_searches.get(session, "FINCH-ASK-01")
