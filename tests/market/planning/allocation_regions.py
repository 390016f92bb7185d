"""Small regions to plan: requests, lots and yards in an invented valley."""

from datetime import date
from decimal import Decimal
from typing import Any

from service.market.matching.candidates import Candidate, columns_of
from service.market.matching.oil_similarity import OilTable
from service.market.matching.requests import Delivery, Request
from service.market.matching.search import SearchFigures
from service.market.people.parties import unit_vector
from service.market.planning.allocations import AllocationOrder
from service.market.planning.gathering import Asker, Promised, Region, Yard, gather_region
from tests.factories import NOW, TODAY

ON = date(2027, 2, 1)
AT = unit_vector(latitude_deg=45.0, longitude_deg=-64.0)
YARDS = {"ALDER": Yard(name="Alder Yard", at=AT), "BIRCH": Yard(name="Birch Yard", at=AT)}


def an_asker(number: int, mass_kg: str = "60", *, promised: Promised | None = None, **told: Any) -> Asker:
    """A brewery half a degree to the north that wants aroma hops."""
    kept = {"deliveries": (Delivery(needed_on=ON, mass_kg=Decimal(mass_kg)),), **told}
    return Asker(
        request=Request(
            code=f"FINCH-REQ-{number:02d}", brewery_code="FINCH", role="aroma", made_at=NOW, **kept
        ),
        brewery_name="Finch Brewery",
        near=unit_vector(latitude_deg=45.5, longitude_deg=-64.0),
        promised=promised or Promised(),
    )


def a_lot(code: str, free_kg: str = "100", *, alpha_percent: float | None = None, **told: Any) -> Candidate:
    """A listed lot of Willamette."""
    import math

    figures = SearchFigures()
    if alpha_percent is not None:
        figures = SearchFigures(day=TODAY.toordinal(), log_alpha=math.log(alpha_percent), rate_per_day=0.0)
    return Candidate(
        code=code,
        grower_code=code.split("-")[0],
        cultivar="Willamette",
        cultivar_key="WILLAMETTE",
        role="aroma",
        form="pellet",
        free_kg=Decimal(free_kg),
        distance_km=0.0,
        figures=figures,
        **told,
    )


def a_region(
    askers: list[Asker],
    lots: list[Candidate],
    order: AllocationOrder | None = None,
    *,
    oil: OilTable | None = None,
) -> Region:
    """Gather them as they stand today."""
    return gather_region(
        askers, columns_of(lots), YARDS, order=order or AllocationOrder(), today=TODAY, oil=oil
    )
