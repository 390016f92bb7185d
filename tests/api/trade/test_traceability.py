"""From beer to yard and back, over HTTP, and the kiln that begins it."""

from typing import Any

from tests.builders import World

DAY = "2026-11-20"


def wet(world: World, who: str = "ALDER", mass: float = 500) -> str:
    code = world.draft(who, form="wet_hop", packing=None, stored_at_c=None, mass_kg=mass)
    assert world.post(f"/v1/lots/{code}/listing", {}, who=who).status_code == 201
    return code


def batch(**told: Any) -> dict[str, Any]:
    return {"dried_on": "2026-08-30", "wet_kg": 400, "dry_kg": 96, **told}


def test_the_kiln_fills_a_lot_from_the_yard_and_from_wet_hops_in_the_books(world: World) -> None:
    world.grower()
    green, lot = wet(world), world.draft(mass_kg=None)
    path = f"/v1/lots/{lot}/kiln-batches"
    moist = {"wet_moisture_percent": 78.0, "dry_moisture_percent": 9.0}

    first = world.post(path, {"batches": [batch(**moist), batch(from_lot_code=green)]}, who="ALDER")
    more = world.post(path, {"batches": [batch(from_lot_code=green)]}, who="ALDER")
    second = world.post(path, {"batches": [batch(from_lot_code=green, wet_kg=100, dry_kg=24)]}, who="ALDER")

    assert first.status_code == second.status_code == 201, first.text
    assert [(b["code"], b["loss_kg"]) for b in first.json["items"]] == [("K1", 304), ("K2", 304)]
    assert round(first.json["items"][0]["dry_matter_left_percent"], 1) == 99.3
    assert (more.status_code, more.json["free_kg"]) == (409, 100)
    filled = world.get(f"/v1/lots/{lot}", who="ALDER").json
    assert (filled["mass_kg"], world.get(f"/v1/lots/{green}", who="ALDER").json["free_kg"]) == (216, 0)
    assert world.patch(f"/v1/lots/{lot}", {"mass_kg": 210}, who="ALDER").status_code == 409
    assert world.patch(f"/v1/lots/{lot}", {"harvested_on": "2026-08-30"}, who="ALDER").status_code == 200
    assert len(world.get(path, who="ALDER").json["items"]) == 3
    slip = world.post(path, {"batches": [batch(wet_kg=4000, dry_kg=960)]}, who="ALDER").json["items"][0][
        "code"
    ]
    assert world.delete(f"{path}/{slip}", who="ALDER", etag=None).status_code == 204
    assert world.get(f"/v1/lots/{lot}", who="ALDER").json["mass_kg"] == 216
    assert world.delete(f"{path}/{slip}", who="ALDER", etag=None).status_code == 404
    edges = world.get(f"/v1/lots/{green}/tree", who="ALDER").json["edges"]
    assert [(e["into_code"], e["mass_kg"], e["brought_kg"]) for e in edges] == [(lot, 120, 500)]
    assert round(edges[0]["share_percent"], 2) == 55.56


def test_a_kiln_takes_only_what_fits(world: World) -> None:
    for code in ("ALDER", "ROWAN"):
        world.grower(code)
    lot, cones, theirs = world.draft(mass_kg=None), world.listed(mass_kg=500), wet(world, "ROWAN")
    path = f"/v1/lots/{lot}/kiln-batches"

    for told, status, kind in (
        ({"from_lot_code": cones}, 422, "/problems/unfit-goods"),
        ({"from_lot_code": theirs}, 403, "/problems/not-allowed"),
        ({"from_lot_code": "NONE"}, 404, "/problems/not-found"),
        ({"dry_kg": 400}, 422, "/problems/kilograms-do-not-add-up"),
        ({"dried_on": "2026-08-01"}, 422, "/problems/out-of-range"),
    ):
        answer = world.post(path, {"batches": [batch(**told)]}, who="ALDER")
        assert (answer.status_code, answer.json["type"]) == (status, kind), answer.text
    assert world.post(path, {"batches": []}, who="ALDER").status_code == 422
    by_hand = world.draft(mass_kg=100)
    assert (
        world.post(f"/v1/lots/{by_hand}/kiln-batches", {"batches": [batch()]}, who="ALDER").status_code == 409
    )


def test_the_tree_walks_from_beer_to_yard_and_shows_each_its_own(world: World) -> None:
    for code in ("ALDER", "ROWAN"):
        world.grower(code)
    for code in ("FINCH", "TEAL"):
        world.brewery(code)
    mine, theirs = world.listed(mass_kg=100), world.listed("ROWAN", mass_kg=100)
    run = {
        "lots": [{"lot_code": mine, "mass_kg": 60}, {"lot_code": theirs, "mass_kg": 40}],
        "grower_code": "ALDER",
        "done_on": DAY,
        "mass_kg": 94,
        "loss_kg": 6,
        "packing": "barrier_vacuum",
        "stored_at_c": 2.0,
    }
    pool = world.post("/v1/pelletizings", run, who="specialist").json["code"]
    part = world.post(f"/v1/lots/{pool}/parts", {"mass_kg": 44, "done_on": DAY}, who="ALDER").json["code"]
    world.report(part, sampled_on=DAY, analysed_on=DAY)
    world.post(f"/v1/lots/{part}/listing", {}, who="ALDER")
    for who, mass in (("FINCH", 20), ("TEAL", 4)):
        world.post("/v1/reservations", {"lot_code": part, "mass_kg": mass}, who=who)
    world.delete(f"/v1/lots/{part}/listing", who="ALDER", etag=None)

    def tree(code: str, who: str | None) -> Any:
        answer = world.get(f"/v1/lots/{code}/tree", who=who)
        return answer.json if answer.status_code == 200 else answer.status_code

    beer = tree(part, "FINCH")
    assert [lot["code"] for lot in beer["lots"]] == sorted((mine, theirs, pool, part))
    assert [leaf["brewery_code"] for leaf in beer["leaves"]] == ["FINCH"]
    assert {edge["mass_kg"] for edge in beer["edges"]} == {None}
    yard = tree(theirs, "ROWAN")
    assert [lot["code"] for lot in yard["lots"]] == sorted((theirs, pool))
    assert [(e["mass_kg"], e["brought_kg"]) for e in yard["edges"]] == [(37.6, 40)]
    assert yard["leaves"] == []
    assert {leaf["brewery_code"] for leaf in tree(mine, "ALDER")["leaves"]} == {"FINCH", "TEAL"}
    assert len(tree(mine, "specialist")["edges"]) == 2
    assert len(tree(part, "specialist")["edges"]) == 3
    # Listed lots are seen by all, their trees are not; an unlisted one is not even there.
    assert (tree(mine, None), tree(mine, "FINCH")["lot_code"]) == (401, mine)
    world.brewery("OTHER")
    assert (tree(mine, "OTHER"), tree(pool, "OTHER"), tree(pool, None)) == (403, 404, 404)
    # Who holds part of a lot sees the whole of it, though it was never listed.
    assert world.get(f"/v1/lots/{pool}", who="FINCH").status_code == 200
    assert world.get(f"/v1/lots/{pool}", who="OTHER").status_code == 404
    assert world.get(f"/v1/lots/{pool}/origin", who="ROWAN").status_code == 200
    assert world.get(f"/v1/lots/{pool}/origin", who="OTHER").status_code == 404


def test_a_batch_that_is_taken_out_gives_its_wet_hops_back(world: World) -> None:
    world.grower()
    green, lot = wet(world), world.draft(mass_kg=None)
    path = f"/v1/lots/{lot}/kiln-batches"
    world.post(path, {"batches": [batch(from_lot_code=green)]}, who="ALDER")
    world.post(f"/v1/lots/{lot}/listing", {"as": "awaiting_analysis"}, who="ALDER")

    listed = world.delete(f"{path}/K1", who="ALDER", etag=None)
    world.delete(f"/v1/lots/{lot}/listing", who="ALDER", etag=None)
    taken = world.delete(f"{path}/K1", who="ALDER", etag=None)

    assert (listed.status_code, listed.json["type"]) == (422, "/problems/listing-incomplete")
    assert taken.status_code == 204
    assert world.get(f"/v1/lots/{green}", who="ALDER").json["free_kg"] == 500
    assert world.get(f"/v1/lots/{lot}", who="ALDER").json["mass_kg"] is None
    assert world.get(f"/v1/lots/{lot}", who="ALDER").json["step"] is None
    promised = world.draft(mass_kg=None)
    world.post(f"/v1/lots/{promised}/kiln-batches", {"batches": [batch()]}, who="ALDER")
    sample = {"kind": "sample", "mass_kg": 1, "booked_on": "2026-11-25", "reason": "to the laboratory"}
    world.post(f"/v1/lots/{promised}/bookings", sample, who="ALDER")
    kept = world.delete(f"/v1/lots/{promised}/kiln-batches/K1", who="ALDER", etag=None)
    assert (kept.status_code, kept.json["type"]) == (409, "/problems/fixed-by-listing")
