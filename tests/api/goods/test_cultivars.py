"""Cultivars over HTTP."""

from typing import Any

import pytest

from service.api.goods.cultivar_schemas import ANSWER_SCHEMA
from service.market.goods.cultivar_views import view_cultivar
from service.reference.cultivars import all_cultivars
from tests.builders import World

FINDING = {"country": "CA", "status": "protected", "source": "the register", "checked_on": "2026-11-01"}
DWARF: dict[str, Any] = {
    "denomination": "Dwarf of the Valley",
    "synonyms": ["Trial 7"],
    "role": "aroma",
    "source": "Valley trial of 2024",
    "figures": [
        {"quantity": "alpha_percent", "low": 5.1, "high": 7, "source": "Valley trial of 2024"},
        {
            "quantity": "oil_ml_per_100g",
            "mean": 1.2,
            "unit": "mL/100 g",
            "source": "Brook laboratory",
            "note": "one year",
        },
    ],
    "availability": [FINDING],
}


def pointers(answer: Any) -> list[str]:
    assert answer.status_code == 422, answer.text
    return [error.get("pointer") or error["parameter"] for error in answer.json["errors"]]


def test_get_cultivar_shows_each_figure_with_its_source(world: World) -> None:
    answer = world.get("/v1/cultivars/CENTENNIAL")

    assert answer.status_code == 200
    body = answer.json
    assert (body["denomination"], body["synonyms"], body["shipped"]) == (
        "Centennial",
        ["USDA 21507", "W415-90"],
        True,
    )
    assert (body["role"], body["role_mark"]) == ("dual", "common practice, no source")
    # USDA-ARS accession 21507: alpha 9.0 to 12.0 %, oil 2.83 mL/100 g on average.
    assert body["figures"][0] == {
        "quantity": "alpha_percent",
        "low": 9.0,
        "high": 12.0,
        "unit": "% by weight as is",
        "is_single_mean": False,
        "basis": None,
        "mark": "read",
        "source": "USDA-ARS accession 21507",
        "note": None,
    }
    assert body["figures"][2] == {
        "quantity": "oil_ml_per_100g",
        "mean": 2.83,
        "unit": "mL/100 g",
        "is_single_mean": True,
        "basis": None,
        "mark": "point",
        "source": "USDA-ARS accession 21507",
        "note": None,
    }
    assert body["availability"] == [
        {
            "country": "US",
            "status": "public",
            "checked_on": None,
            "mark": "read",
            "source": "USDA-ARS accession 21507",
            "note": "Germplasm status as printed by the source; not a legal opinion",
        }
    ]
    assert "unconfirmed" in body["availability_elsewhere"]
    assert "claim of law" in body["availability_elsewhere"]


def test_get_cultivar_shows_the_storage_estimate_with_every_row(world: World) -> None:
    storage = world.get("/v1/cultivars/CASCADE").json["six_month_storage"]

    # USDA-ARS accession 21092: 40 % of the alpha left; growers' association: 48 to 52 %.
    assert (storage["quantity"], storage["estimate"], storage["confidence"]) == (
        "alpha_loss_percent",
        60.0,
        0.9,
    )
    assert (storage["low"], storage["high"]) == (48.0, 68.0)
    assert [(row["remaining_percent_low"], row["remaining_percent_high"]) for row in storage["rows"]] == [
        (48.0, 52.0),
        (40.0, 40.0),
    ]
    assert storage["is_assumption"] is False
    assert all(words.endswith("(assumption, no source)") for words in storage["assumptions"])


def test_a_single_published_mean_is_never_shown_as_a_range(world: World) -> None:
    items = world.get("/v1/cultivars", limit=100).json["items"]

    figures = [figure for item in items for figure in item["figures"]]
    assert {frozenset({"low", "high", "mean"} & set(f)) for f in figures if f["is_single_mean"]} == {
        frozenset({"mean"})
    }
    assert {frozenset({"low", "high", "mean"} & set(f)) for f in figures if not f["is_single_mean"]} == {
        frozenset({"low", "high"})
    }


def test_what_is_kept_of_the_shipped_books_is_what_the_schema_writes(world: World) -> None:
    for _ in range(2):
        items = world.get("/v1/cultivars", limit=100).json["items"]

    by_code = {cultivar.code: cultivar for cultivar in all_cultivars()}
    assert items == [ANSWER_SCHEMA.dump(view_cultivar(by_code[item["code"]])) for item in items]
    assert len(items) == len(by_code)


def test_get_cultivars_leads_through_all_pages(world: World) -> None:
    seen: list[str] = []
    path: str | None = "/v1/cultivars?limit=15"
    while path:
        page = world.get(path)
        seen += [item["code"] for item in page.json["items"]]
        link = page.headers.get("Link", "")
        assert (page.json["next"] is None) == (link == "")
        path = link.partition(">")[0].removeprefix("<") or None

    assert seen == [item["code"] for item in world.get("/v1/cultivars", limit=100).json["items"]]
    assert len(set(seen)) == len(all_cultivars())


def test_get_cultivars_by_name_leads_through_pages_too(world: World) -> None:
    first = world.get("/v1/cultivars", name="Hallertauer", limit=2)
    second = world.get(first.headers["Link"].partition(">")[0].removeprefix("<"))

    assert [item["denomination"] for item in first.json["items"] + second.json["items"]] == [
        "Hallertauer Magnum",
        "Hallertauer Mittelfrueh",
        "Hallertauer Tradition",
    ]
    assert second.json["next"] is None
    assert first.json["cautions"] == second.json["cautions"]


@pytest.mark.parametrize("name", ["mt. hood", "MOUNT HOOD"])
def test_get_cultivars_finds_a_name_without_a_caution(world: World, name: str) -> None:
    body = world.get("/v1/cultivars", name=name).json

    assert [item["code"] for item in body["items"]] == ["MT-HOOD"]
    assert "cautions" not in body


def test_get_cultivars_suggests_near_names(world: World) -> None:
    assert world.get("/v1/cultivars", name="Nuget").json == {
        "items": [],
        "next": None,
        "cautions": ["No cultivar here goes by the name Nuget. Near names: Nugget."],
    }


@pytest.mark.parametrize("query", ["name=", "nam=Cascade", "name=a&name=b", "limit=0", "cursor=xyz"])
def test_get_cultivars_refuses_a_query_it_does_not_take(world: World, query: str) -> None:
    assert pointers(world.get(f"/v1/cultivars?{query}")) == [query.partition("=")[0]]


def test_a_cursor_belongs_to_its_name(world: World) -> None:
    cursor = world.get("/v1/cultivars", name="Hallertauer", limit=1).json["next"]

    assert pointers(world.get("/v1/cultivars", cursor=cursor)) == ["cursor"]


@pytest.mark.parametrize("code", ["NONE", "CASCAD", "CASCADE "])
def test_get_cultivar_knows_whole_codes_only(world: World, code: str) -> None:
    assert world.get(f"/v1/cultivars/{code}").status_code == 404


def test_post_cultivar_answers_what_was_kept(world: World) -> None:
    answer = world.post("/v1/cultivars", DWARF, who="specialist")

    assert answer.status_code == 201
    assert answer.headers["Location"] == "/v1/cultivars/DWARF-OF-THE-VALLEY"
    body = answer.json
    assert (body["code"], body["shipped"], body["role_mark"]) == (
        "DWARF-OF-THE-VALLEY",
        False,
        "told by the specialist",
    )
    assert body["figures"] == [
        {
            "quantity": "alpha_percent",
            "low": 5.1,
            "high": 7.0,
            "unit": "% by weight as is",
            "is_single_mean": False,
            "basis": None,
            "mark": "told by the specialist",
            "source": "Valley trial of 2024",
            "note": None,
        },
        {
            "quantity": "oil_ml_per_100g",
            "mean": 1.2,
            "unit": "mL/100 g",
            "is_single_mean": True,
            "basis": None,
            "mark": "told by the specialist",
            "source": "Brook laboratory",
            "note": "one year",
        },
    ]
    assert body["availability"] == [{**FINDING, "mark": "told by the specialist", "note": None}]
    assert body["six_month_storage"]["is_assumption"] is True
    assert body["six_month_storage"]["rows"] == []
    shown = world.get("/v1/cultivars/DWARF-OF-THE-VALLEY")
    assert (shown.json, shown.headers["ETag"]) == (body, answer.headers["ETag"])


def test_post_cultivar_does_once_what_is_sent_twice(world: World) -> None:
    key = {"Idempotency-Key": "dwarf-1"}

    first = world.post("/v1/cultivars", DWARF, who="specialist", headers=key)
    again = world.post("/v1/cultivars", DWARF, who="specialist", headers=key)

    assert (again.status_code, again.json) == (201, first.json)
    assert world.post("/v1/cultivars", DWARF, who="specialist").status_code == 409


@pytest.mark.parametrize(("who", "status"), [(None, 401), ("ALDER", 403), ("FINCH", 403)])
def test_only_the_specialist_writes_cultivars(world: World, who: str | None, status: int) -> None:
    world.grower("ALDER")
    world.brewery("FINCH")

    assert world.post("/v1/cultivars", DWARF, who=who).status_code == status
    assert world.patch("/v1/cultivars/CASCADE", {"availability": [FINDING]}, who=who).status_code == status


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"denominaton": "x"}, "#/denominaton"),
        ({"denomination": None}, "#/denomination"),
        ({"denomination": "   "}, "#/denomination"),
        ({"denomination": "x" * 81}, "#/denomination"),
        ({"denomination": "ホップ"}, "#/denomination"),
        ({"role": "noble"}, "#/role"),
        ({"source": ""}, "#/source"),
        ({"synonyms": "Trial"}, "#/synonyms"),
        ({"synonyms": ["Trial", "TRIAL"]}, "#/synonyms/1"),
        ({"figures": [{"quantity": "alpha_percent", "low": 5, "source": "x"}]}, "#/figures/0"),
        (
            {"figures": [{"quantity": "alpha_percent", "low": 5, "high": 6, "mean": 5, "source": "x"}]},
            "#/figures/0",
        ),
        ({"figures": [{"quantity": "alpha_percent", "high": 6, "mean": 5, "source": "x"}]}, "#/figures/0"),
        ({"figures": [{"quantity": "alpha_percent", "source": "x"}]}, "#/figures/0"),
        ({"figures": [{"quantity": "alpha_percent", "mean": 5}]}, "#/figures/0/source"),
        ({"figures": [{"quantity": "alpha_percent", "mean": 101, "source": "x"}]}, "#/figures/0/mean"),
        ({"figures": [{"quantity": "alpha_percent", "mean": "5", "source": "x"}]}, "#/figures/0/mean"),
        ({"figures": [{"quantity": "vigour", "mean": 5, "source": "x"}]}, "#/figures/0/quantity"),
        ({"figures": [{"quantity": "alpha_percent", "low": 7, "high": 6, "source": "x"}]}, "#/figures/0/low"),
        (
            {"figures": [{"quantity": "alpha_percent", "mean": 5, "unit": "g", "source": "x"}]},
            "#/figures/0/unit",
        ),
        ({"availability": [{**FINDING, "status": "free"}]}, "#/availability/0/status"),
        ({"availability": [{**FINDING, "country": "Canada"}]}, "#/availability/0/country"),
        ({"availability": [{**FINDING, "checked_on": None}]}, "#/availability/0/checked_on"),
        ({"availability": [{**FINDING, "checked_on": "2026-11-27"}]}, "#/availability/0/checked_on"),
        ({"availability": [FINDING, FINDING]}, "#/availability/1/country"),
    ],
)
def test_post_cultivar_points_at_what_cannot_be(world: World, change: dict[str, Any], pointer: str) -> None:
    assert pointers(world.post("/v1/cultivars", {**DWARF, **change}, who="specialist")) == [pointer]


def test_post_cultivar_refuses_a_name_that_is_known(world: World) -> None:
    answer = world.post("/v1/cultivars", {**DWARF, "synonyms": ["usda-21092"]}, who="specialist")

    assert answer.status_code == 409
    assert answer.json["type"] == "/problems/already-exists"
    assert answer.json["known"] == [
        {"pointer": "#/synonyms/0", "name": "usda-21092", "cultivar_codes": ["CASCADE"]}
    ]


def test_patch_cultivar_adds_where_a_shipped_one_may_be_planted(world: World) -> None:
    etag = world.get("/v1/cultivars/CASCADE").headers["ETag"]

    answer = world.patch("/v1/cultivars/CASCADE", {"availability": [FINDING]}, who="specialist", etag=etag)

    assert answer.status_code == 200
    assert [(row["country"], row["status"], row["checked_on"]) for row in answer.json["availability"]] == [
        ("CA", "protected", "2026-11-01"),
        ("US", "public", None),
    ]
    shown = world.get("/v1/cultivars/CASCADE")
    assert (shown.json, shown.headers["ETag"]) == (answer.json, answer.headers["ETag"])
    assert answer.headers["ETag"] != etag


def test_patch_cultivar_takes_findings_as_a_whole_list_and_null_removes_them(world: World) -> None:
    abroad = {**FINDING, "country": "DE"}
    path = "/v1/cultivars/CASCADE"
    world.patch(path, {"availability": [FINDING]}, who="specialist")

    replaced = world.patch(path, {"availability": [abroad]}, who="specialist").json["availability"]
    removed = world.patch(path, {"availability": None}, who="specialist").json["availability"]

    assert [row["country"] for row in replaced] == ["DE", "US"]
    assert [row["country"] for row in removed] == ["US"]


def test_a_finding_is_shown_on_the_lots_of_that_country(world: World) -> None:
    world.grower("ALDER")
    code = world.draft("ALDER", cultivar="Cascade")

    world.patch("/v1/cultivars/CASCADE", {"availability": [FINDING]}, who="specialist")

    planting = world.get(f"/v1/lots/{code}", who="ALDER").json["planting"]
    assert {name: planting[name] for name in FINDING} == FINDING
    assert planting["licence"] is None


def test_patch_cultivar_wants_the_version_that_was_read(world: World) -> None:
    path, change = "/v1/cultivars/CASCADE", {"availability": [FINDING]}
    etag = world.get(path).headers["ETag"]

    assert world.patch(path, change, who="specialist", etag=None).status_code == 428
    assert world.patch(path, change, who="specialist", etag=etag).status_code == 200
    assert world.patch(path, {"availability": []}, who="specialist", etag=etag).status_code == 412
    assert world.get(path).json["availability"][0]["country"] == "CA"


def test_patch_cultivar_never_changes_what_is_published(world: World) -> None:
    answer = world.patch("/v1/cultivars/CASCADE", {"role": "bittering", "source": "me"}, who="specialist")

    assert answer.status_code == 403
    assert answer.json["fields"] == ["role", "source"]
    assert world.get("/v1/cultivars/CASCADE").json["role"] == "aroma"


def test_patch_cultivar_changes_a_regional_one_by_merge_patch(world: World) -> None:
    path = world.post("/v1/cultivars", DWARF, who="specialist").headers["Location"]

    answer = world.client.patch(
        path,
        data='{"denomination": "Giant", "figures": null}',
        content_type="application/merge-patch+json",
        headers={**world.bearing("specialist"), "If-Match": "*"},
    )

    assert answer.status_code == 200
    assert (answer.json["code"], answer.json["denomination"]) == ("DWARF-OF-THE-VALLEY", "Giant")
    assert (answer.json["figures"], answer.json["synonyms"]) == ([], ["Trial 7"])
    assert [row["country"] for row in answer.json["availability"]] == ["CA"]
    assert pointers(world.patch(path, {"role": None}, who="specialist")) == ["#/role"]


def test_a_lot_names_a_regional_cultivar_and_older_lots_of_it_are_found(world: World) -> None:
    world.grower("ALDER")
    older = world.listed(cultivar="Trial 7", role="aroma")

    world.post("/v1/cultivars", DWARF, who="specialist")
    newer = world.listed(cultivar="trial-7")

    named = world.get(f"/v1/lots/{newer}", who="ALDER").json
    assert (named["cultivar"], named["known"], named["role"]) == ("Dwarf of the Valley", True, "aroma")
    assert named["planting"]["status"] == "protected"
    found = world.get("/v1/lots", cultivar="Dwarf of the Valley").json["items"]
    assert {line["code"] for line in found} == {older, newer}
