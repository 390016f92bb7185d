"""The growers around a brewery, and plain rows as matching reads them: distances are worked out once for each grower."""

from typing import Any

import numpy as np
import sqlalchemy as sa

from service.facts import Fact
from service.market.people.parties import EARTH_RADIUS_KM
from service.records.session import Session
from service.records.tables import PartyRow
from service.science.arrays import Numbers, Places

LIMIT_SLACK = 1 + 2e-9
Place = tuple[float, float, float]


class Growers(Fact, frozen=True, kw_only=True):
    """Every grower with the distance to the brewery, in the order of their numbers."""

    ids: Places
    codes: list[str]
    km: Numbers

    def nearest(self, *, within_km: float | None = None) -> Places:
        """The places of the growers in these columns, nearest first."""
        order = np.argsort(self.km, kind="stable")
        return order if within_km is None else order[self.km[order] <= within_km * LIMIT_SLACK]

    def places_of(self, grower_ids: Places) -> Places:
        """Where growers stand in these columns."""
        return np.searchsorted(self.ids, grower_ids)


def growers_around(session: Session, near: Place) -> Growers:
    """Every grower, and how far each is from a place."""
    query = (
        sa.select(PartyRow.id, PartyRow.code, PartyRow.unit_x, PartyRow.unit_y, PartyRow.unit_z)
        .where(PartyRow.kind == "grower")
        .order_by(PartyRow.id)
    )
    rows = rows_of(session, query)
    ids, codes, *unit = zip(*rows, strict=True) if rows else ((), (), (), (), ())
    chord = np.sqrt(
        sum(
            ((np.array(own, dtype=np.float64) - value) ** 2 for own, value in zip(unit, near, strict=True)),
            0.0,
        )
    )
    km = 2 * EARTH_RADIUS_KM * np.arcsin(np.minimum(1.0, chord / 2))
    return Growers(ids=np.array(ids, dtype=np.int64), codes=list(codes), km=km)


def turned(rows: list[Any], width: int) -> list[tuple[Any, ...]]:
    """Rows as columns, so many even where there are no rows."""
    return list(zip(*rows, strict=True)) if rows else [()] * width


def rows_of(session: Session, query: Any, **named: Any) -> list[Any]:
    """The rows of a statement as the driver gives them."""
    # Nothing here is an object that the session would look after.
    with session.connection().execute(query, named) as result:
        return list(result.cursor.fetchall())
