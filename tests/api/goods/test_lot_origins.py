"""Block, place of origin and certifications over HTTP: given, shown, searched, lapsed."""

from typing import Any

import pytest

from tests.builders import LOT, World

ORGANIC = {
    "kind": "organic",
    "scheme": "Valley Organic",
    "certifier": "Heron Certification",
    "number": "VO-17",
    "valid_until": "2026-12-31",
}
SALMON = {
    "scheme": "Clean Brook",
    "certifier": "Heron Certification",
    "number": "9",
    "valid_until": "2026-11-24",
}
TOLD = {"block": "North 2", "origin_subdivision": "CA-NS", "certifications": [ORGANIC, SALMON]}


def found(world: World, **query: Any) -> list[str]:
    """The codes that a search finds."""
    answer = world.get("/v1/lots", **query)
    assert answer.status_code == 200, answer.text
    return [line["code"] for line in answer.json["items"]]


def test_what_was_given_is_shown_on_the_lot_and_on_its_line(world: World) -> None:
    world.grower("ALDER")
    code = world.listed(**TOLD)

    lot = world.get(f"/v1/lots/{code}").json
    line = world.get("/v1/lots").json["items"][0]

    assert (lot["block"], lot["origin_country"], lot["origin_subdivision"]) == ("North 2", "CA", "CA-NS")
    assert lot["certifications"] == [
        {**ORGANIC, "lapsed": False},
        {**SALMON, "kind": "other", "lapsed": True},
    ]
    for name in ("origin_country", "origin_subdivision", "certifications"):
        assert line[name] == lot[name]


def test_without_a_country_a_lot_grew_in_its_growers_country(world: World) -> None:
    world.grower("ALDER")
    code = world.draft()

    removed = world.patch(f"/v1/lots/{code}", {"origin_country": None}, who="ALDER")

    assert world.get(f"/v1/lots/{world.draft()}", who="ALDER").json["origin_country"] == "CA"
    assert removed.json["origin_country"] is None


@pytest.mark.parametrize(
    ("query", "finds"),
    [
        ({"origin_country": "CA"}, True),
        ({"origin_country": "US"}, False),
        ({"origin_subdivision": "CA-NS"}, True),
        ({"origin_country": "CA", "origin_subdivision": "CA-QC"}, False),
        ({"certification": "organic"}, True),
        ({"certification": "valley ORGANIC"}, True),
        ({"certification": "organic", "on": "2026-12-31"}, True),
        ({"certification": "organic", "on": "2027-01-01"}, False),
        ({"certification": "Clean Brook"}, False),
        ({"certification": "other"}, False),
        ({"certification": "Some Other Scheme"}, False),
    ],
    ids=str,
)
def test_a_search_finds_by_origin_and_by_what_is_certified_on_the_day(
    world: World, query: dict[str, Any], finds: bool
) -> None:
    world.grower("ALDER")
    code = world.listed(**TOLD)
    world.listed(origin_country="FR")

    assert found(world, **query) == ([code] if finds else [])


def test_a_line_shows_as_lapsed_what_will_have_lapsed_on_the_day_asked(world: World) -> None:
    world.grower("ALDER")
    world.listed(**TOLD)

    line = world.get("/v1/lots", on="2027-01-01").json["items"][0]

    assert [held["lapsed"] for held in line["certifications"]] == [True, True]


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"origin_country": "Canada"}, "#/origin_country"),
        ({"origin_country": "UK"}, "#/origin_country"),
        ({"origin_subdivision": "NS"}, "#/origin_subdivision"),
        ({"origin_country": "US", "origin_subdivision": "CA-NS"}, "#/origin_subdivision"),
        ({"certifications": [{**ORGANIC, "valid_until": None}]}, "#/certifications/0/valid_until"),
        ({"certifications": [ORGANIC, ORGANIC]}, "#/certifications/1"),
        ({"certifications": [{**ORGANIC, "kind": "biodynamic"}]}, "#/certifications/0/kind"),
        ({"certifications": [{**ORGANIC, "label": "x"}]}, "#/certifications/0/label"),
        ({"block": " "}, "#/block"),
    ],
    ids=str,
)
def test_what_cannot_be_is_named_by_its_pointer(world: World, told: dict[str, Any], pointer: str) -> None:
    world.grower("ALDER")

    refused = world.post("/v1/lots", {**LOT, **told}, who="ALDER")

    assert refused.status_code == 422
    assert [fault["pointer"] for fault in refused.json["errors"]] == [pointer]


@pytest.mark.parametrize(
    "query", [{"origin_country": "US", "origin_subdivision": "CA-NS"}, {"certification": "?"}]
)
def test_a_search_for_what_cannot_be_is_refused(world: World, query: dict[str, str]) -> None:
    refused = world.get("/v1/lots", **query)

    assert (refused.status_code, list(query)[-1]) == (422, refused.json["errors"][0]["parameter"])


def test_a_patch_renews_the_certifications_and_fixes_the_block_once_listed(world: World) -> None:
    world.grower("ALDER")
    code = world.listed(**TOLD)
    read = world.get(f"/v1/lots/{code}", who="ALDER")
    renewed = {**ORGANIC, "number": "VO-18", "valid_until": "2027-12-31"}

    changed = world.patch(
        f"/v1/lots/{code}", {"certifications": [renewed]}, who="ALDER", etag=read.headers["ETag"]
    )
    moved = world.patch(f"/v1/lots/{code}", {"block": "South"}, who="ALDER")

    assert changed.json["certifications"] == [{**renewed, "lapsed": False}]
    assert changed.headers["ETag"] != read.headers["ETag"]
    assert found(world, certification="organic", on="2027-06-01") == [code]
    assert (moved.status_code, moved.json["fields"]) == (409, ["block"])
