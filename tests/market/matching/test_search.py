"""Filters of a search that go together, and those that do not."""

from datetime import date
from typing import Any

import pytest

from service.errors import InvalidRequest
from service.market.matching.search import wish_of
from tests.factories import TODAY


def wish(**asked: Any) -> Any:
    """A wish of what is asked."""
    return wish_of(asked, cultivar_keys=(), today=TODAY, sees_all_prices=False)


def test_without_filters_the_newest_harvest_comes_first_today() -> None:
    assert (wish().on, wish().sort, wish().roles) == (TODAY, "-harvested", ())


def test_aroma_and_bittering_find_dual_too() -> None:
    assert wish(role="aroma").roles == ("aroma", "dual")
    assert wish(role="bittering").roles == ("bittering", "dual")
    assert wish(role="dual").roles == ("dual",)


def test_a_place_becomes_a_direction() -> None:
    assert wish(near_latitude_deg=90.0, near_longitude_deg=0.0).near == pytest.approx((0.0, 0.0, 1.0))


@pytest.mark.parametrize(
    ("asked", "parameter"),
    [
        ({"on": date(2026, 11, 24)}, "on"),
        ({"near_latitude_deg": 45.0}, "near_longitude_deg"),
        ({"near_longitude_deg": -64.0}, "near_latitude_deg"),
        ({"within_km": 50.0}, "within_km"),
        ({"sort": "distance"}, "sort"),
        ({"sort": "-price"}, "sort"),
        ({"price_per_kg_max": 30}, "price_per_kg_max"),
        ({"alpha_percent_min": 9.0, "alpha_percent_max": 8.0}, "alpha_percent_min"),
    ],
    ids=str,
)
def test_filters_that_do_not_go_together_are_named(asked: dict[str, Any], parameter: str) -> None:
    with pytest.raises(InvalidRequest) as refused:
        wish(**asked)

    assert refused.value.facts["errors"][0]["parameter"] == parameter  # type: ignore[index]


def test_an_order_by_price_goes_with_its_currency() -> None:
    dearest = wish(sort="-price", currency="CAD", price_per_kg_max=30)

    assert (dearest.sort, dearest.currency, dearest.price_per_kg_max) == ("-price", "CAD", 30)
