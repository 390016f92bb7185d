"""Listing over HTTP: announced, awaiting analysis, analysed, withdrawn."""

from tests.builders import World

ANNOUNCED = {
    "harvested_on": None,
    "mass_kg": None,
    "packing": None,
    "stored_at_c": None,
    "expected_kg": 80,
    "harvest_window_from": "2026-12-01",
    "harvest_window_to": "2026-12-10",
}


def test_readiness_moves_forward_only_by_another_listing(world: World) -> None:
    world.grower("ALDER")
    code = world.draft(**ANNOUNCED)

    first = world.post(f"/v1/lots/{code}/listing", {"as": "announced"}, who="ALDER")
    early = world.post(f"/v1/lots/{code}/listing", {"as": "awaiting_analysis"}, who="ALDER")
    picked = {"harvested_on": "2026-11-24", "mass_kg": 75.5, "packing": "open", "stored_at_c": 4.0}
    world.patch(f"/v1/lots/{code}", picked, who="ALDER")
    second = world.post(f"/v1/lots/{code}/listing", {"as": "awaiting_analysis"}, who="ALDER")
    world.report(code, sampled_on="2026-11-24", analysed_on="2026-11-25")
    before = world.get(f"/v1/lots/{code}").json["readiness"]
    third = world.post(f"/v1/lots/{code}/listing", {}, who="ALDER")
    back = world.post(f"/v1/lots/{code}/listing", {"as": "announced"}, who="ALDER")

    assert first.json == {
        "lot_code": code,
        "state": "listed",
        "readiness": "announced",
        "first_listed_on": "2026-11-25",
    }
    assert early.json["missing"] == ["harvested_on", "mass_kg", "packing", "stored_at_c"]
    assert second.json["readiness"] == "awaiting_analysis"
    assert before == "awaiting_analysis"
    assert third.json["readiness"] == "analysed"
    assert (back.status_code, back.json["type"]) == (409, "/problems/illegal-step")


def test_lots_without_figures_never_pass_a_limit_on_them(world: World) -> None:
    world.grower("ALDER")
    announced = world.draft(**ANNOUNCED)
    awaiting = world.draft()
    world.post(f"/v1/lots/{announced}/listing", {"as": "announced"}, who="ALDER")
    world.post(f"/v1/lots/{awaiting}/listing", {"as": "awaiting_analysis"}, who="ALDER")
    analysed = world.listed()

    def found(**query: object) -> list[str]:
        return [line["code"] for line in world.get("/v1/lots", **query).json["items"]]

    assert found(sort="alpha") == [analysed, announced, awaiting]
    assert found(alpha_percent_min=0) == [analysed]
    assert found(hop_storage_index_max=2) == [analysed]
    assert found(oil_ml_per_100g_min=0) == [analysed]
    assert found(readiness="announced") == [announced]
    assert found(readiness="awaiting_analysis") == [awaiting]


def test_a_wet_hop_lot_needs_no_acids_and_has_no_storage_model(world: World) -> None:
    world.grower("ALDER")
    code = world.draft(form="wet_hop", packing=None, stored_at_c=None, harvested_on="2026-11-25")

    listed = world.post(f"/v1/lots/{code}/listing", {}, who="ALDER")
    storage = world.get(f"/v1/lots/{code}/storage")

    assert listed.status_code == 201
    assert (storage.status_code, storage.json["type"]) == (422, "/problems/no-storage-model")


def test_a_withdrawn_lot_is_gone_for_strangers_and_comes_back_when_listed_again(world: World) -> None:
    world.grower("ALDER")
    code = world.listed()

    assert world.delete(f"/v1/lots/{code}/listing", who="ALDER", etag=None).status_code == 204
    assert world.get(f"/v1/lots/{code}").status_code == 404
    assert world.get("/v1/lots").json["items"] == []
    assert world.get(f"/v1/lots/{code}", who="ALDER").json["state"] == "withdrawn"
    assert world.delete(f"/v1/lots/{code}/listing", who="ALDER", etag=None).status_code == 409
    assert world.post(f"/v1/lots/{code}/listing", {}, who="ALDER").status_code == 201
    assert [line["code"] for line in world.get("/v1/lots").json["items"]] == [code]


def test_listing_is_for_the_lots_grower_and_the_specialist(world: World) -> None:
    world.grower("ALDER")
    world.grower("ROWAN")
    code = world.listed()

    assert world.post(f"/v1/lots/{code}/listing", {}, who="ROWAN").status_code == 403
    assert world.delete(f"/v1/lots/{code}/listing", etag=None).status_code == 401
    assert world.post(f"/v1/lots/{code}/listing", {}, who="specialist").status_code == 201
