"""A region as columns, and who came first."""

from datetime import timedelta

from service.facts import replace
from service.market.planning.allocation_region import arrival_of, model_of
from tests.factories import NOW
from tests.market.planning.allocation_regions import a_lot, a_region, an_asker


def test_the_value_of_a_pair_is_the_score_of_each_kilogram_it_covers() -> None:
    region = a_region([an_asker(1, lots_max=2), an_asker(2)], [a_lot("ALDER-2026-01", "40")])

    model = model_of(region)

    assert model.worth_per_kg.tolist() == [p.score * p.covers for p in region.pairs]
    assert model.lots_max.tolist() == [2, 1_000_000]
    assert (model.need_kg.tolist(), model.stock_kg.tolist()) == ([60, 60], [40])


def test_arrival_is_the_order_in_which_requests_were_made() -> None:
    region = a_region([an_asker(1), an_asker(2)], [a_lot("ALDER-2026-01")])
    later = replace(region.needs[0], made_at=NOW + timedelta(days=1))

    assert arrival_of(replace(region, needs=(later, region.needs[1]))) == [1, 0]
