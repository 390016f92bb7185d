"""Consistency over HTTP, with the grower's consent."""

import pytest

from tests.builders import World


@pytest.fixture
def valley(world: World) -> World:
    world.grower()
    world.brewery()
    for year, alphas in ((2025, (5.0, 5.2, 5.4)), (2026, (6.0, 6.2))):
        for alpha in alphas:
            world.listed(
                harvested_on=f"{year}-08-29",
                report={
                    "sampled_on": f"{year}-09-03",
                    "analysed_on": f"{year}-09-08",
                    "alpha_percent": alpha,
                },
            )
    return world


def test_a_brewery_reads_it_once_the_grower_consents(valley: World) -> None:
    path = "/v1/growers/ALDER/consistency"

    before = valley.get(path, who="FINCH", cultivar="Willamette")
    consent = valley.patch("/v1/growers/ALDER", {"shows_consistency": True}, who="ALDER")
    after = valley.get(path, who="FINCH", cultivar="Willamette")

    assert (before.status_code, consent.status_code, after.status_code) == (403, 200, 200)
    alpha = after.json["figures"][0]
    assert (alpha["name"], alpha["n"], alpha["spread"]["median"]) == ("alpha_percent", 5, 5.4)
    assert alpha["effect"]["years"] == 2
    assert after.json["crop_years"] == [2025, 2026]
    assert valley.get(path, who="FINCH", cultivar="Cascade").status_code == 403


def test_the_grower_always_reads_its_own(valley: World) -> None:
    own = valley.get("/v1/growers/ALDER/consistency", who="ALDER", cultivar="Willamette")

    assert own.status_code == 200
    assert own.json["is_shown_to_brewers"] is False
    assert valley.get("/v1/growers/ALDER/consistency", who=None, cultivar="Willamette").status_code == 401
    assert valley.get("/v1/growers/NOBODY/consistency", who="ALDER", cultivar="X1").status_code == 404
    assert valley.get("/v1/growers/ALDER/consistency", who="ALDER").status_code == 422


def test_a_brewery_has_no_lots_to_show(valley: World) -> None:
    answer = valley.patch("/v1/breweries/FINCH", {"shows_consistency": True}, who="FINCH")

    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "#/shows_consistency")


def test_a_part_counts_with_its_whole_and_a_pool_of_several_growers_not_at_all(valley: World) -> None:
    valley.grower("ROWAN")
    theirs = valley.listed("ROWAN")
    asked = {"mass_kg": 20, "done_on": "2026-11-20"}
    part = valley.post("/v1/lots/ALDER-2026-04/parts", asked, who="ALDER").json["code"]
    assert valley.post(f"/v1/lots/{part}/listing", {}, who="ALDER").status_code == 201
    lots = [{"lot_code": code, "mass_kg": 20} for code in ("ALDER-2026-05", theirs)]
    run = {"lots": lots, "done_on": "2026-11-20", "mass_kg": 38, "loss_kg": 2, "grower_code": "ALDER"}
    run |= {"packing": "barrier_vacuum", "stored_at_c": 2.0}
    pool = valley.post("/v1/pelletizings", run, who="specialist").json["code"]
    valley.report(pool, sampled_on="2026-11-20", analysed_on="2026-11-21", alpha_percent=9.0)
    assert valley.post(f"/v1/lots/{pool}/listing", {}, who="ALDER").status_code == 201

    path = "/v1/growers/ALDER/consistency"
    found = valley.get(path, who="ALDER", cultivar="Willamette").json
    of_part = valley.get(path, who="ALDER", cultivar="Willamette", lot_code=part)

    assert found["figures"][0]["n"] == 5
    assert of_part.status_code == 200
    assert of_part.json["figures"][0]["n"] == 5
