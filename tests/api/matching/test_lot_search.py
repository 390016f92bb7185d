"""The search over HTTP: what a stranger learns, pages that lose no row, limits that agree with the estimates."""

import base64
import itertools
import json
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st

from service.api.goods.lots import LotLineAnswer, line_body
from service.market.goods.provenance import ShownCertification
from service.market.matching.search import LotLine
from service.science.uncertainty import Estimate
from tests.builders import World
from tests.factories import TODAY


def codes(answer: Any) -> list[str]:
    """The codes of a page."""
    assert answer.status_code == 200, answer.text
    return [line["code"] for line in answer.json["items"]]


def estimates() -> st.SearchStrategy[Estimate | None]:
    """Any estimate, or none."""
    figure = st.floats(0, 100)
    return st.none() | st.builds(Estimate, estimate=figure, low=figure, high=figure)


LINES = st.builds(
    LotLine,
    code=st.just("ALDER-2026-01"),
    grower_code=st.just("ALDER"),
    cultivar=st.text(min_size=1, max_size=20),
    crop_year=st.none() | st.integers(1900, 2200),
    form=st.sampled_from(["whole_cone", "wet_hop"]),
    packing=st.none() | st.just("open"),
    readiness=st.just("analysed"),
    alpha_percent=estimates(),
    hop_storage_index=estimates(),
    alpha_method=st.none() | st.just("asbc_hops_14"),
    oil_ml_per_100g=st.none() | st.floats(0, 20),
    free_kg=st.decimals(0, 10_000, places=3),
    price_per_kg=st.none() | st.decimals(0, 1000, places=4),
    currency=st.none() | st.just("CAD"),
    distance_km=st.none() | st.integers(0, 20_040),
    origin_country=st.none() | st.just("CA"),
    origin_subdivision=st.none() | st.just("CA-NS"),
    certifications=st.tuples()
    | st.tuples(
        st.builds(
            ShownCertification,
            kind=st.just("other"),
            scheme=st.text(min_size=1, max_size=20),
            certifier=st.just("Heron"),
            number=st.just("7"),
            valid_until=st.dates(),
            lapsed=st.booleans(),
        )
    ),
)


@given(line=LINES)
def test_the_quick_encoder_writes_what_the_schema_writes(line: LotLine) -> None:
    assert line_body(line) == LotLineAnswer().dump(line)


@pytest.fixture
def two(world: World) -> World:
    """A lot whose price is closed and one whose price is open."""
    world.grower("ALDER", latitude_deg=44.951234, longitude_deg=-64.402345)
    world.brewery("FINCH")
    world.listed(price_per_kg=18.0)
    world.listed(price_per_kg=30.0, price_open=True)
    return world


def test_a_stranger_learns_no_closed_price_by_filter_order_or_page(two: World) -> None:
    closed, opened = "ALDER-2026-01", "ALDER-2026-02"
    seen = two.get("/v1/lots", sort="price", currency="CAD")

    assert codes(seen) == [opened, closed]
    assert [(x["price_per_kg"], x["currency"]) for x in seen.json["items"]] == [(30.0, "CAD"), (None, None)]
    assert codes(two.get("/v1/lots", price_per_kg_max=10, currency="CAD")) == [closed]
    assert codes(two.get("/v1/lots", price_per_kg_max=20, currency="EUR")) == [closed]
    assert two.get(f"/v1/lots/{closed}").json["price_per_kg"] is None
    first = two.get("/v1/lots", sort="price", currency="CAD", limit=1)
    cursor = json.loads(base64.urlsafe_b64decode(first.json["next"] + "=="))
    assert "18" not in cursor
    assert codes(two.get("/v1/lots", sort="price", currency="CAD", limit=1, cursor=first.json["next"])) == [
        closed
    ]


def test_a_known_caller_sees_every_price(two: World) -> None:
    seen = two.get("/v1/lots", who="FINCH", sort="price", currency="CAD")

    assert [line["price_per_kg"] for line in seen.json["items"]] == [18.0, 30.0]
    assert codes(two.get("/v1/lots", who="FINCH", price_per_kg_max=10, currency="CAD")) == []


def test_distances_are_whole_kilometres_for_anyone_and_places_are_blurred(two: World) -> None:
    here = {"near_latitude_deg": 45.0, "near_longitude_deg": -64.0}

    # Great circle between the two places, GeographicLib's mean-radius sphere: 32 km.
    assert [x["distance_km"] for x in two.get("/v1/lots", **here).json["items"]] == [32, 32]
    grower = two.get("/v1/growers/ALDER").json
    assert (grower["latitude_deg"], grower["longitude_deg"]) == (45.0, -64.4)


def test_a_name_that_may_be_several_finds_them_all_and_a_synonym_its_cultivar(world: World) -> None:
    world.grower("ALDER")
    code = world.listed(cultivar="Mt. Hood")

    found = world.get("/v1/lots", cultivar="mount hood")

    assert codes(found) == [code]
    assert found.json["items"][0]["cultivar"] == "Mt. Hood"
    assert codes(world.get("/v1/lots", cultivar="Never Heard Of It")) == []


def test_drafts_and_withdrawn_lots_are_never_found(world: World) -> None:
    world.grower("ALDER")
    world.draft()
    gone = world.listed()
    world.delete(f"/v1/lots/{gone}/listing", who="ALDER", etag=None)

    assert codes(world.get("/v1/lots", who="ALDER")) == []
    assert codes(world.get("/v1/lots", who="ALDER", mine="true", state="withdrawn")) == [gone]


@pytest.fixture
def many(world: World) -> World:
    """Lots with ties and with figures that are missing, of two growers."""
    world.grower("ALDER")
    world.grower("ROWAN", latitude_deg=45.5)
    for number in range(7):
        told: dict[str, Any] = {"harvested_on": f"2026-08-{20 + number % 2}"}
        if number % 3:
            told |= {"price_per_kg": None, "currency": None}
        if number == 4:
            code = world.draft(**told)
            world.post(f"/v1/lots/{code}/listing", {"as": "awaiting_analysis"}, who="ALDER")
        else:
            world.listed("ROWAN" if number % 2 else "ALDER", report={"alpha_percent": 5 + number % 2}, **told)
    return world


def test_pages_hold_each_row_once_in_one_order_with_the_missing_last(many: World) -> None:
    for sort in ("distance", "alpha", "price", "harvested"):
        for sign, limit in itertools.product(("", "-"), (1, 3)):
            assert_pages_hold(many, sort, sign, limit)


def assert_pages_hold(many: World, sort: str, sign: str, limit: int) -> None:
    query = {"sort": sign + sort, "currency": "CAD", "near_latitude_deg": 44, "near_longitude_deg": -64}
    whole = many.get("/v1/lots", who="ALDER", **query).json["items"]
    paged, cursor = [], None
    while cursor is not None or not paged:
        answer = many.get(
            "/v1/lots", who="ALDER", **query, limit=limit, **({"cursor": cursor} if cursor else {})
        )
        paged += answer.json["items"]
        cursor = answer.json["next"]
        assert ("Link" in answer.headers) == (cursor is not None)

    assert paged == whole
    assert len({line["code"] for line in whole}) == len(whole) == 7
    shown = {"distance": "distance_km", "price": "price_per_kg", "alpha": "alpha_percent"}.get(sort)
    if shown:
        values = [line[shown] for line in whole]
        values = [v["estimate"] if isinstance(v, dict) else v for v in values]
        known = [v for v in values if v is not None]
        assert known == sorted(known, reverse=bool(sign))
        assert values[: len(known)] == known


def test_the_next_page_is_linked_with_the_whole_query(many: World) -> None:
    answer = many.get("/v1/lots", sort="-alpha", limit=2)
    link = answer.headers["Link"]

    assert link.endswith('>; rel="next"')
    followed = many.client.get(link[1 : link.index(">")])
    assert len(followed.json["items"]) == 2
    assert not set(codes(followed)) & set(codes(answer))


def forged(cursor: str, key: list[Any]) -> str:
    """A cursor with another position."""
    parts = json.loads(base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)))
    return base64.urlsafe_b64encode(json.dumps([parts[0], *key]).encode()).decode().rstrip("=")


FORGED: list[list[Any]] = [
    ["x", 1],
    [None, "x"],
    [None, None],
    [[], 1],
    [{}, 1],
    [True, 1],
    ["a\0", 1],
    ["\ud800", 1],
    [1e300, 1],
    [0.123456789, 2**70],
    ["2026-13-40", 1],
    ["9" * 90, 1],
    [1],
    [],
]


@pytest.mark.parametrize("sort", ["distance", "alpha", "price", "harvested"])
def test_a_forged_cursor_is_refused_or_harmless(many: World, sort: str) -> None:
    query = {"sort": sort, "currency": "CAD", "near_latitude_deg": 44, "near_longitude_deg": -64, "limit": 1}
    cursor = many.get("/v1/lots", **query).json["next"]

    for key in FORGED:
        answer = many.get("/v1/lots", **query, cursor=forged(cursor, key))

        assert answer.status_code in (200, 422), key
        if answer.status_code == 422:
            assert answer.json["errors"][0]["parameter"] == "cursor", key


@pytest.fixture
def stored(world: World) -> World:
    """A lot that was analysed, moved into a warmer room and opened."""
    world.grower("ALDER")
    code = world.listed()
    world.patch(f"/v1/lots/{code}", {"packing": "open", "stored_at_c": 12.0}, who="ALDER")
    world.report(
        code, sampled_on="2026-10-01", analysed_on="2026-10-02", alpha_percent=None, beta_percent=None
    )
    return world


@given(days=st.integers(0, 1000), offset=st.sampled_from([-0.3, -1e-6, 0.0, 1e-6, 0.3]))
@settings(max_examples=25)
def test_a_limit_on_any_day_agrees_with_the_estimate_of_that_day(
    stored: World, days: int, offset: float
) -> None:
    code, on = "ALDER-2026-01", TODAY + timedelta(days=days)
    left = stored.get(f"/v1/lots/{code}/storage", on=on).json
    alpha, index = left["alpha_percent"]["estimate"], left["hop_storage_index"]["estimate"]
    limit, ceiling = max(0.0, alpha + offset), min(2.03, max(0.05, index + offset))
    line = stored.get("/v1/lots", on=on).json["items"][0]

    assert line["alpha_percent"]["estimate"] == pytest.approx(alpha, rel=1e-9)
    assert line["hop_storage_index"]["estimate"] == pytest.approx(index, rel=1e-9)
    if abs(alpha - limit) > 1e-9:
        found = stored.get("/v1/lots", on=on, alpha_percent_min=f"{limit:.12f}").json["items"]
        assert (found != []) == (alpha >= limit)
        found = stored.get("/v1/lots", on=on, alpha_percent_max=f"{limit:.12f}").json["items"]
        assert (found != []) == (alpha <= limit)
    if abs(index - ceiling) > 1e-9:
        found = stored.get("/v1/lots", on=on, hop_storage_index_max=f"{ceiling:.12f}").json["items"]
        assert (found != []) == (index <= ceiling)


def test_on_the_day_of_the_report_the_limit_is_the_reports_own_figure(world: World) -> None:
    world.grower("ALDER")
    code = world.listed(
        harvested_on="2026-11-20", report={"sampled_on": str(TODAY), "analysed_on": str(TODAY)}
    )

    assert codes(world.get("/v1/lots", alpha_percent_min=5.4, hop_storage_index_max=0.27)) == [code]
    assert codes(world.get("/v1/lots", alpha_percent_min=5.4001)) == []


@pytest.mark.parametrize("lots", [1, 3])
@pytest.mark.parametrize(("path", "most"), [("/v1/lots", 2), ("/v1/growers", 2)], ids=str)
def test_a_page_asks_the_database_few_questions(world: World, lots: int, path: str, most: int) -> None:
    world.grower("ALDER")
    for _ in range(lots):
        world.listed()
    statements: list[str] = []

    def count(_c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if statement.lstrip().upper().startswith("SELECT"):
            statements.append(statement)

    sa.event.listen(world.records.engine, "before_cursor_execute", count)
    world.client.get(path, headers=world.bearing("ALDER"))
    sa.event.remove(world.records.engine, "before_cursor_execute", count)

    # One more to find out who asks.
    assert len(statements) <= most + 1, "\n".join(statements)


def test_mass_is_free_mass_and_exact(world: World) -> None:
    world.grower("ALDER")
    code = world.listed(mass_kg=0.3)

    assert codes(world.get("/v1/lots", free_kg_min=0.3)) == [code]
    assert codes(world.get("/v1/lots", free_kg_min="0.301")) == []
    assert Decimal(str(world.get("/v1/lots").json["items"][0]["free_kg"])) == Decimal("0.3")
    assert date.fromisoformat(world.get(f"/v1/lots/{code}").json["first_listed_on"]) == TODAY


def test_a_name_without_letters_is_refused_by_its_parameter(world: World) -> None:
    answer = world.get("/v1/lots", cultivar="!!!")

    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "cultivar")
