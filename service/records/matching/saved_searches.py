"""Saved searches: get, search, add, remove."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import sqlalchemy as sa

from service.errors import NotFound
from service.market.trade.notices import SavedSearch
from service.records.people import parties
from service.records.session import Session
from service.records.tables import PartyRow, SavedSearchRow

PLAIN = ("code", "name", "by_mail", "made_at", "made_by")
# Kept as text, so that they come back exactly.
EXACT = ("free_kg_min", "price_per_kg_max")


def get(session: Session, code: str) -> SavedSearch:
    """One saved search.

    Raises:
        NotFound: there is none of that code.

    """
    found = session.execute(_everything().where(SavedSearchRow.code == code)).one_or_none()
    if found is None:
        raise NotFound(f"there is no saved search {code}")
    return _fact(*found)


def search(session: Session, *, brewery_code: str | None) -> Sequence[SavedSearch]:
    """The saved searches of a brewery (None: of all), oldest first."""
    query = _everything()
    if brewery_code is not None:
        query = query.where(PartyRow.code == brewery_code)
    return [_fact(row, code) for row, code in session.execute(query)]


def next_code(session: Session, brewery_code: str) -> str:
    """The next code of a brewery's saved searches."""
    return f"{brewery_code}-ASK-{parties.next_number(session, 'brewery', brewery_code):02d}"


def add(session: Session, saved: SavedSearch) -> None:
    """Keep a new saved search."""
    row = SavedSearchRow(brewery_id=parties.get_row(session, "brewery", saved.brewery_code).id)
    for name in PLAIN:
        setattr(row, name, getattr(saved, name))
    row.filters = {
        name: str(value) if name in EXACT else value
        for name, value in saved.filters.items()
        if value is not None
    }
    session.add(row)
    session.flush()


def remove(session: Session, code: str) -> None:
    """Take a saved search out of the books."""
    session.delete(session.scalars(sa.select(SavedSearchRow).where(SavedSearchRow.code == code)).one())
    session.flush()


def _everything() -> sa.Select[SavedSearchRow, str]:
    return (
        sa.select(SavedSearchRow, PartyRow.code)
        .join(PartyRow, PartyRow.id == SavedSearchRow.brewery_id)
        .order_by(SavedSearchRow.id)
    )


def _fact(row: SavedSearchRow, brewery_code: str) -> SavedSearch:
    filters: dict[str, Any] = {
        name: Decimal(value) if name in EXACT else value for name, value in row.filters.items()
    }
    return SavedSearch(
        brewery_code=brewery_code, filters=filters, **{name: getattr(row, name) for name in PLAIN}
    )
