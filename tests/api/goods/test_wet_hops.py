"""Wet hops over HTTP: announced, narrowed, picked, fetched."""

from tests.builders import World

WET = {
    "form": "wet_hop",
    "harvested_on": None,
    "mass_kg": None,
    "packing": None,
    "stored_at_c": None,
    "expected_kg": 80.0,
    "harvest_window_from": "2026-11-25",
    "harvest_window_to": "2026-12-05",
}


def test_a_window_is_narrowed_to_a_day_and_an_hour_and_the_age_runs(world: World) -> None:
    world.grower()
    world.brewery()
    lot = world.draft(**WET)
    assert world.post(f"/v1/lots/{lot}/listing", {"as": "announced"}, who="ALDER").status_code == 201
    assert world.post("/v1/reservations", {"lot_code": lot, "mass_kg": 40.0}, who="FINCH").status_code == 201

    moved = world.patch(f"/v1/lots/{lot}", {"harvest_window_to": "2026-12-20"}, who="ALDER")
    narrowed = world.patch(
        f"/v1/lots/{lot}",
        {"harvest_window_to": "2026-11-25", "collect_at": "2026-11-26T07:00:00Z"},
        who="ALDER",
    )
    picked = world.patch(
        f"/v1/lots/{lot}",
        {"harvested_on": "2026-11-25", "picked_at": "2026-11-25T00:00:00Z", "mass_kg": 76.0},
        who="ALDER",
    )

    assert (moved.status_code, moved.json["type"]) == (409, "/problems/fixed-by-listing")
    assert narrowed.json["wet"]["collect_at"] == "2026-11-26T07:00:00Z"
    assert narrowed.json["wet"]["age_hours"] is None
    wet = picked.json["wet"]
    assert 0 <= wet["age_hours"] <= 24
    assert (wet["moisture_is_measured"], wet["moisture_percent"]["estimate"]) == (False, 80.0)
    assert world.get(f"/v1/lots/{lot}/storage", who="ALDER").json["type"] == "/problems/no-storage-model"


def test_dry_lots_say_nothing_by_the_hour(world: World) -> None:
    world.grower()
    lot = world.draft()

    assert world.get(f"/v1/lots/{lot}", who="ALDER").json["wet"] is None
    refused = world.patch(f"/v1/lots/{lot}", {"picked_at": "2026-08-29T15:30:00Z"}, who="ALDER")
    assert (refused.status_code, refused.json["errors"][0]["pointer"]) == (422, "#/picked_at")
