"""The trail over HTTP: who changed what, when, for whom; and nothing of anybody else's."""

import pytest

from tests.builders import World


@pytest.fixture
def valley(world: World) -> World:
    world.grower()
    world.grower("BIRCH")
    world.brewery()
    world.brewery("TEAL")
    return world


def said(world: World, who: str, **query: object) -> list[tuple[str, str, str]]:
    answer = world.get("/v1/changes", who=who, **query)
    assert answer.status_code == 200, answer.text
    return [(line["by"], line["act"], line["kind"]) for line in answer.json["items"]]


def test_the_trail_of_a_lot_tells_its_life_newest_first(valley: World) -> None:
    lot = valley.listed()
    valley.patch(f"/v1/lots/{lot}", {"price_per_kg": 26.0}, who="ALDER")

    items = valley.get("/v1/changes", who="ALDER", lot_code=lot).json["items"]

    assert items[0]["fields"] == [{"name": "price_per_kg", "before": 24.0, "after": 26.0, "kept_back": False}]
    assert (items[0]["by"], items[0]["act"], items[0]["made_for"]) == ("grower:ALDER", "changed", None)
    assert {"lab_report", "storage_spell", "lot"} <= {line["kind"] for line in items}
    assert all(line["at"].startswith("2026-11-25T") for line in items)


def test_the_specialist_acts_for_a_party_and_the_trail_says_so(valley: World) -> None:
    lot = valley.draft()
    valley.patch(f"/v1/lots/{lot}", {"note": "typed in for the yard"}, who="specialist")

    line = valley.get("/v1/changes", who="ALDER", lot_code=lot).json["items"][0]

    assert (line["by"], line["made_for"]) == ("specialist", "grower:ALDER")


def test_a_committed_brewery_reads_the_lot_and_nothing_of_other_breweries(valley: World) -> None:
    lot = valley.listed()
    for who in ("FINCH", "TEAL"):
        made = valley.post("/v1/reservations", {"lot_code": lot, "mass_kg": 10.0}, who=who)
        for side in (who, "ALDER"):
            valley.post(f"/v1/reservations/{made.json['code']}/confirmation", who=side)
    valley.report(lot, "TEAL", drawn_by="buyer", sampled_on="2026-10-03", analysed_on="2026-10-08")

    text = valley.get("/v1/changes", who="FINCH", lot_code=lot, limit=100).text

    assert "FINCH-RES-01" in text
    assert '"kind": "lot"' in text
    assert "TEAL" not in text
    assert "TEAL-RES-01" in valley.get("/v1/changes", who="ALDER", lot_code=lot, limit=100).text


def test_others_learn_nothing(valley: World) -> None:
    lot = valley.draft()

    assert valley.get("/v1/changes", who=None).status_code == 401
    assert valley.get("/v1/changes", who="FINCH", lot_code=lot).status_code == 404
    assert lot not in valley.get("/v1/changes", who="BIRCH").text
    assert valley.get("/v1/changes", who="FINCH", lot_cod=lot).status_code == 422


def test_pages_follow_each_other(valley: World) -> None:
    lot = valley.listed()
    whole = said(valley, "ALDER", lot_code=lot, limit=100)

    first = valley.get("/v1/changes", who="ALDER", lot_code=lot, limit=2).json
    second = valley.get("/v1/changes", who="ALDER", lot_code=lot, limit=100, cursor=first["next"]).json

    pages = [*first["items"], *second["items"]]
    assert [(line["by"], line["act"], line["kind"]) for line in pages] == whole
    assert second["next"] is None


def test_a_token_leaves_a_line_without_its_secret(valley: World) -> None:
    made = valley.post("/v1/tokens", {"role": "grower", "party_code": "ALDER"}, who="specialist")
    assert made.status_code == 201, made.text

    text = valley.get("/v1/changes", who="specialist", kind="token").text

    assert '"kind": "token"' in text
    assert made.json["token"] not in text
    assert "sha256" not in text
