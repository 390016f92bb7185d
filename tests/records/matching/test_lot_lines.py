"""The search over listed lots: every filter, every order, each row exactly once."""

from typing import Any

import pytest

from tests.builders import World

SORTS = ("-harvested", "harvested", "-alpha", "alpha", "price", "-price", "distance", "-distance")


@pytest.fixture
def region(world: World) -> dict[str, str]:
    """Six lots of two growers, by what is special about each."""
    world.grower("ALDER")
    world.grower("ROWAN", latitude_deg=46.0, longitude_deg=-66.0)
    methods = {"alpha_beta": "asbc_hops_6", "moisture": "asbc_hops_4"}
    return {
        "plain": world.listed(price_open=True),
        "far": world.listed("ROWAN", price_per_kg=18.0, price_open=True, harvested_on="2026-08-20"),
        "bitter": world.listed(cultivar="Nugget", report={"alpha_percent": 13.0}, harvested_on="2025-09-01"),
        "pellet": world.listed(form="pellet", price_per_kg=None, currency=None),
        "seedling": world.listed(cultivar="Own Seedling", role="dual", report={"oil_ml_per_100g": 2.4}),
        "spectrum": world.listed(
            report={"hop_storage_index": None, "oil_ml_per_100g": None, "methods": methods}, mass_kg=9.5
        ),
    }


def found(world: World, region: dict[str, str], who: str | None = None, **query: Any) -> list[str]:
    """The special names of the lots found, in order."""
    names = {code: name for name, code in region.items()}
    answer = world.get("/v1/lots", who=who, **query)
    assert answer.status_code == 200, answer.text
    return [names[line["code"]] for line in answer.json["items"]]


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ({"role": "bittering"}, "bitter seedling"),
        ({"role": "aroma", "form": "whole_cone"}, "plain far seedling spectrum"),
        ({"cultivar": "nugget"}, "bitter"),
        ({"cultivar": "own seedling"}, "seedling"),
        ({"known": "false"}, "seedling"),
        ({"known": "true", "form": "pellet"}, "pellet"),
        ({"crop_year": 2025}, "bitter"),
        ({"alpha_percent_min": 10}, "bitter"),
        ({"alpha_percent_max": 1}, ""),
        ({"hop_storage_index_max": 0.5, "form": "pellet"}, "pellet"),
        ({"hop_storage_index_max": 0.26}, ""),
        ({"oil_ml_per_100g_min": 2}, "seedling"),
        ({"free_kg_min": 10, "crop_year": 2026, "known": "true"}, "plain far pellet"),
        ({"method": "asbc_hops_6"}, "spectrum"),
        ({"readiness": "announced"}, ""),
        ({"near_latitude_deg": 46, "near_longitude_deg": -66, "within_km": 50}, "far"),
        ({"price_per_kg_max": 20, "currency": "CAD"}, "far bitter pellet seedling spectrum"),
        ({"price_per_kg_max": 20, "currency": "EUR"}, "bitter pellet seedling spectrum"),
    ],
    ids=str,
)
def test_a_filter_finds_its_lots(
    world: World, region: dict[str, str], query: dict[str, Any], expected: str
) -> None:
    assert set(found(world, region, **query)) == set(expected.split())


def test_a_closed_price_counts_as_by_agreement_only_for_strangers(
    world: World, region: dict[str, str]
) -> None:
    world.brewery("FINCH")
    limit = {"price_per_kg_max": 20, "currency": "CAD"}

    assert set(found(world, region, who="FINCH", **limit)) == {"far", "pellet"}
    assert found(world, region, sort="price", currency="CAD")[:2] == ["far", "plain"]


@pytest.mark.parametrize("sort", SORTS)
def test_each_row_stands_exactly_once_over_the_pages(world: World, region: dict[str, str], sort: str) -> None:
    query = {"sort": sort, "currency": "CAD", "near_latitude_deg": 45, "near_longitude_deg": -64}
    whole = found(world, region, **query)
    pages, cursor = [], None
    while True:
        answer = world.get("/v1/lots", limit=2, **query, **({"cursor": cursor} if cursor else {})).json
        pages.append([line["code"] for line in answer["items"]])
        cursor = answer["next"]
        if cursor is None:
            break

    assert [code for page in pages for code in page] == [region[name] for name in whole]
    assert sorted(whole) == sorted(region)
    assert [len(page) for page in pages] == [2, 2, 2]


def test_an_order_by_alpha_over_several_methods_says_so(world: World, region: dict[str, str]) -> None:
    several = world.get("/v1/lots", sort="-alpha").json
    one = world.get("/v1/lots", sort="-alpha", method="asbc_hops_14").json

    assert several["items"][0]["code"] == region["bitter"]
    assert "asbc_hops_14, asbc_hops_6" in several["cautions"][0]
    assert "cautions" not in one


def test_a_cursor_belongs_to_its_query(world: World, region: dict[str, str]) -> None:
    cursor = world.get("/v1/lots", limit=2).json["next"]

    assert world.get("/v1/lots", limit=2, cursor=cursor, sort="alpha").status_code == 422
