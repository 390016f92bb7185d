"""Growers and breweries over HTTP: welcomed by the specialist, changed by themselves, private to strangers."""

from tests.builders import World

GROWER = {
    "code": "ALDER",
    "name": "Alderbrook Hop Yard",
    "email": "yard@alderbrook.example",
    "country": "CA",
    "locality": "Alder Brook",
    "latitude_deg": 44.95,
    "longitude_deg": -64.43,
    "elevation_m": 35,
    "shows_consistency": False,
}


def test_post_grower_by_the_specialist(world: World) -> None:
    answer = world.post("/v1/growers", GROWER, who="specialist")

    assert answer.status_code == 201
    assert answer.json == {**GROWER, "elevation_m": 35.0}
    assert answer.headers["Location"] == "/v1/growers/ALDER"


def test_post_grower_twice_is_refused(world: World) -> None:
    world.post("/v1/growers", GROWER, who="specialist")

    answer = world.post("/v1/growers", GROWER, who="specialist")

    assert (answer.status_code, answer.json["type"]) == (409, "/problems/already-exists")


def test_a_grower_and_a_brewery_may_share_a_code(world: World) -> None:
    world.post("/v1/growers", GROWER, who="specialist")

    assert world.post("/v1/breweries", GROWER, who="specialist").status_code == 201


def test_post_grower_is_for_the_specialist_alone(world: World) -> None:
    world.brewery("FINCH")

    assert world.post("/v1/growers", GROWER, who="FINCH").status_code == 403
    assert world.post("/v1/growers", GROWER).status_code == 401


def test_post_grower_names_each_wrong_field(world: World) -> None:
    wrong = {**GROWER, "code": "al der", "latitude_deg": 94.95, "country": "Canada", "nmae": "x"}

    answer = world.post("/v1/growers", wrong, who="specialist")

    assert answer.status_code == 422
    assert sorted(fault["pointer"] for fault in answer.json["errors"]) == [
        "#/code",
        "#/country",
        "#/latitude_deg",
        "#/nmae",
    ]


def test_strangers_see_a_blurred_place_and_no_address(world: World) -> None:
    world.post("/v1/growers", GROWER, who="specialist")
    world.brewery("FINCH")

    stranger = world.get("/v1/growers/ALDER").json
    brewery = world.get("/v1/growers/ALDER", who="FINCH").json
    specialist = world.get("/v1/growers/ALDER", who="specialist").json

    assert (stranger["latitude_deg"], stranger["longitude_deg"], stranger["email"]) == (45.0, -64.4, None)
    assert (brewery["latitude_deg"], brewery["email"]) == (44.95, None)
    assert specialist == {**GROWER, "elevation_m": 35.0}


def test_patch_needs_the_version_that_was_read(world: World) -> None:
    world.grower("ALDER")
    etag = world.get("/v1/growers/ALDER", who="ALDER").headers["ETag"]

    assert world.patch("/v1/growers/ALDER", {"name": "New"}, who="ALDER", etag=None).status_code == 428
    assert world.patch("/v1/growers/ALDER", {"name": "New"}, who="ALDER", etag=etag).json["name"] == "New"
    stale = world.patch("/v1/growers/ALDER", {"name": "Newer"}, who="ALDER", etag=etag)
    assert (stale.status_code, stale.json["type"]) == (412, "/problems/if-match-stale")


def test_patch_null_removes_what_may_be_missing_and_nothing_else(world: World) -> None:
    world.grower("ALDER")

    assert world.patch("/v1/growers/ALDER", {"email": None}, who="ALDER").json["email"] is None
    assert world.patch("/v1/growers/ALDER", {"name": None}, who="ALDER").status_code == 422
    assert world.patch("/v1/growers/ALDER", {"code": "OTHER"}, who="ALDER").status_code == 422


def test_patch_of_another_partys_record_is_refused(world: World) -> None:
    world.grower("ALDER")
    world.grower("ROWAN")

    assert world.patch("/v1/growers/ALDER", {"name": "Mine"}, who="ROWAN").status_code == 403
    assert world.patch("/v1/growers/ALDER", {"name": "Mine"}).status_code == 401
    assert world.patch("/v1/growers/NOBODY", {"name": "Mine"}, who="ROWAN").status_code == 404


def test_parties_are_paged_in_the_order_of_their_codes(world: World) -> None:
    for code in ("ROWAN", "ALDER", "ELM"):
        world.brewery(code)

    first = world.get("/v1/breweries", limit=2)
    second = world.get("/v1/breweries", limit=2, cursor=first.json["next"])

    assert [party["code"] for party in first.json["items"]] == ["ALDER", "ELM"]
    assert first.headers["Link"].endswith('; rel="next"')
    assert [party["code"] for party in second.json["items"]] == ["ROWAN"]
    assert second.json["next"] is None
    assert "Link" not in second.headers


def test_a_cursor_of_another_list_is_refused(world: World) -> None:
    answer = world.get("/v1/breweries", cursor="bm90IG91cnM")

    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "cursor")
