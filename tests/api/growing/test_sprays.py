"""The spray record over HTTP: entered, refused listing, corrected, read by those it concerns."""

from typing import Any

import pytest

from tests.builders import World

SPRAY: dict[str, Any] = {
    "block": "North 2",
    "product": "Mildewstop 50",
    "active_ingredient": "an invented sulfur",
    "sprayed_on": "2026-08-20",
    "harvest_interval_days": 14,
}
PATH = "/v1/growers/ALDER/sprays"


@pytest.fixture
def yard(world: World) -> World:
    world.grower("ALDER")
    world.grower("ROWAN")
    world.brewery("FINCH")
    world.brewery("TEAL")
    return world


def test_an_entry_says_the_earliest_day_of_picking(yard: World) -> None:
    made = yard.post(PATH, SPRAY, who="ALDER")

    assert made.status_code == 201
    assert (made.json["code"], made.json["season"]) == ("S1", 2026)
    assert made.json["earliest_picking_on"] == "2026-09-03"
    assert (made.json["picked_inside"], made.json["withdrawn_lots"]) == ([], [])
    assert any("label is the law" in words for words in made.json["cautions"])


def test_picking_inside_an_interval_refuses_listing_until_the_entry_is_corrected(yard: World) -> None:
    code = yard.draft(block="north 2")
    yard.report(code)
    entered = yard.post(PATH, SPRAY, who="ALDER")

    refused = yard.post(f"/v1/lots/{code}/listing", {}, who="ALDER")
    corrected = yard.post(
        PATH,
        {**SPRAY, "harvest_interval_days": 7, "corrects": "S1", "reason": "the label says 7 days"},
        who="ALDER",
    )
    listed = yard.post(f"/v1/lots/{code}/listing", {}, who="ALDER")

    assert entered.json["picked_inside"] == [
        {"lot_code": code, "picked_on": "2026-08-29", "window_closes_on": None}
    ]
    assert any("quality-holds" in words for words in entered.json["cautions"])
    assert (refused.status_code, refused.json["type"]) == (422, "/problems/picked-inside-interval")
    assert refused.json["entries"] == [
        {
            "spray": "S1",
            "product": "Mildewstop 50",
            "lot_code": code,
            "sprayed_on": "2026-08-20",
            "harvest_interval_days": 14,
            "earliest_picking_on": "2026-09-03",
            "picked_on": "2026-08-29",
            "window_closes_on": None,
        }
    ]
    assert (corrected.status_code, corrected.json["code"], listed.status_code) == (201, "S2", 201)
    record = yard.get(PATH, who="ALDER").json["items"]
    assert [(e["code"], e["corrected_by"], e["harvest_interval_days"]) for e in record] == [
        ("S1", "S2", 14),
        ("S2", None, 7),
    ]


def test_an_entry_that_comes_late_ends_the_listing_of_the_lot_and_of_its_parts(yard: World) -> None:
    code = yard.listed(block="North 2")
    other = yard.listed(block="South")
    part = yard.post(f"/v1/lots/{code}/parts", {"mass_kg": 20, "done_on": "2026-11-20"}, who="ALDER")
    assert part.status_code == 201, part.text
    split = part.json["code"]
    assert yard.post(f"/v1/lots/{split}/listing", {}, who="ALDER").status_code == 201

    entered = yard.post(PATH, SPRAY, who="ALDER")

    assert entered.json["withdrawn_lots"] == sorted([code, split])
    assert [line["code"] for line in yard.get("/v1/lots").json["items"]] == [other]
    assert yard.get(f"/v1/lots/{split}", who="ALDER").json["block"] == "North 2"


def test_pellets_of_a_lot_picked_too_early_are_not_listed_either(yard: World) -> None:
    code = yard.draft(block="North 2")
    run = {
        "lots": [{"lot_code": code, "mass_kg": 120.5}],
        "mass_kg": 118,
        "loss_kg": 2.5,
        "done_on": "2026-10-01",
        "packing": "barrier_nitrogen",
        "stored_at_c": -2.0,
    }
    made = yard.post("/v1/pelletizings", run, who="ALDER")
    assert made.status_code == 201, made.text
    pellets = made.json["code"]
    yard.report(pellets, sampled_on="2026-10-05", analysed_on="2026-10-08")
    yard.post(PATH, SPRAY, who="ALDER")

    refused = yard.post(f"/v1/lots/{pellets}/listing", {}, who="ALDER")

    assert (refused.status_code, refused.json["entries"][0]["lot_code"]) == (422, code)


def test_a_listed_lot_is_not_moved_into_a_block_whose_interval_it_broke(yard: World) -> None:
    code = yard.listed()
    yard.post(PATH, SPRAY, who="ALDER")

    moved = yard.patch(f"/v1/lots/{code}", {"block": "North 2"}, who="ALDER")

    assert (moved.status_code, moved.json["type"]) == (422, "/problems/picked-inside-interval")


def test_the_record_is_for_its_grower_and_the_specialist(yard: World) -> None:
    yard.post(PATH, SPRAY, who="ALDER")
    yard.post(PATH, {**SPRAY, "season": 2027, "product": "Winter wash"}, who="specialist")

    for who, status in (("ALDER", 200), ("specialist", 200), ("ROWAN", 403), ("FINCH", 403), (None, 401)):
        assert yard.get(PATH, who=who).status_code == status
    by = [entry["entered_by"] for entry in yard.get(PATH, who="ALDER").json["items"]]
    assert by == ["grower:ALDER", "specialist"]
    assert len(yard.get(PATH, who="ALDER", block="NORTH 2", season=2027).json["items"]) == 1
    first = yard.get(PATH, who="ALDER", limit=1)
    rest = yard.get(PATH, who="ALDER", limit=1, cursor=first.json["next"])
    assert [first.json["items"][0]["code"], rest.json["items"][0]["code"]] == ["S1", "S2"]
    assert rest.json["next"] is None
    assert yard.post(PATH, SPRAY, who="ROWAN").status_code == 403
    assert yard.post("/v1/growers/NOBODY/sprays", SPRAY, who="specialist").status_code == 404


def test_parties_to_a_promise_read_the_entries_of_their_lot_and_others_only_that_there_are_some(
    yard: World,
) -> None:
    yard.post(PATH, {**SPRAY, "sprayed_on": "2026-07-01"}, who="ALDER")
    yard.post(PATH, {**SPRAY, "sprayed_on": "2025-07-01"}, who="ALDER")
    code = yard.listed(block="North 2")
    held = yard.post("/v1/reservations", {"lot_code": code, "mass_kg": 10}, who="FINCH")
    assert held.status_code == 201

    for who, status in (
        ("ALDER", 200),
        ("specialist", 200),
        ("FINCH", 200),
        ("TEAL", 403),
        ("ROWAN", 403),
        (None, 401),
    ):
        assert yard.get(f"/v1/lots/{code}/sprays", who=who).status_code == status, who
    read = yard.get(f"/v1/lots/{code}/sprays", who="FINCH").json["items"]
    assert [entry["sprayed_on"] for entry in read] == ["2026-07-01"]
    public = yard.get(f"/v1/lots/{code}").json
    assert public["spray_record"]["kept"] is True
    assert "Mildewstop" not in yard.get(f"/v1/lots/{code}").text


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"harvest_interval_days": -1}, "#/harvest_interval_days"),
        ({"harvest_interval_days": 1.5}, "#/harvest_interval_days"),
        ({"sprayed_on": "2027-01-01"}, "#/sprayed_on"),
        ({"season": 2024}, "#/season"),
        ({"corrects": "S1"}, "#/reason"),
        ({"product": None}, "#/product"),
        ({"interval": 3}, "#/interval"),
    ],
    ids=str,
)
def test_what_cannot_be_is_named_by_its_pointer(yard: World, told: dict[str, Any], pointer: str) -> None:
    refused = yard.post(PATH, {**SPRAY, **told}, who="ALDER")

    assert refused.status_code == 422
    assert [fault["pointer"] for fault in refused.json["errors"]] == [pointer]


def test_a_correction_of_nothing_keeps_nothing(yard: World) -> None:
    refused = yard.post(PATH, {**SPRAY, "corrects": "S7", "reason": "a slip"}, who="ALDER")

    assert refused.status_code == 404
    assert yard.get(PATH, who="ALDER").json["items"] == []
