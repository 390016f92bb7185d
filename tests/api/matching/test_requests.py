"""Requests over HTTP."""

from typing import Any

import pytest

from tests.builders import World

REQUEST: dict[str, Any] = {
    "role": "bittering",
    "cultivars": ["nugget"],
    "forms": ["pellet", "whole_cone"],
    "deliveries": [{"needed_on": "2027-02-01", "mass_kg": 60.0}],
    "alpha_percent_min": 9.0,
    "price_per_kg_max": 30.0,
    "currency": "CAD",
    "within_km": 200,
    "lots_max": 3,
}
WHOLE: dict[str, Any] = {
    "code": "FINCH-REQ-01",
    "brewery_code": "FINCH",
    "state": "open",
    "role": "bittering",
    "role_strict": False,
    "firmness": "intent",
    "cultivars": ["Nugget"],
    "accept_others": True,
    "forms": ["pellet", "whole_cone"],
    "packings": [],
    "certifications": [],
    "origins": [],
    "deliveries": [{"needed_on": "2027-02-01", "mass_kg": 60.0, "alpha_kg": None, "bitterness": None}],
    "alpha_percent_min": 9.0,
    "alpha_percent_max": None,
    "hop_storage_index_max": None,
    "moisture_percent_max": None,
    "oil_ml_per_100g_min": None,
    "kept_from": None,
    "kept_at_c": None,
    "kept_packing": None,
    "within_km": 200.0,
    "price_per_kg_max": 30.0,
    "price_per_kg_alpha_max": None,
    "currency": "CAD",
    "lots_max": 3,
    "parcel_kg_min": None,
    "weights": {},
    "oil_like": None,
    "standing": False,
    "note": None,
    "made_by": "brewery:FINCH",
}


def place(world: World, who: str = "FINCH", **told: Any) -> str:
    answer = world.post("/v1/requests", {**REQUEST, **told}, who=who)
    assert answer.status_code == 201, answer.text
    return str(answer.json["code"])


def test_post_request_answers_the_whole_request(world: World) -> None:
    world.brewery()

    answer = world.post("/v1/requests", REQUEST, who="FINCH")

    assert answer.status_code == 201
    body = dict(answer.json)
    assert body.pop("made_at").startswith("2026-11-25T")
    assert body == WHOLE
    assert answer.headers["Location"] == "/v1/requests/FINCH-REQ-01"
    again = world.get("/v1/requests/FINCH-REQ-01", who="FINCH")
    assert (again.json, again.headers["ETag"]) == (answer.json, answer.headers["ETag"])


def test_the_specialist_places_for_a_brewery_it_names(world: World) -> None:
    world.brewery()

    answer = world.post("/v1/requests", {**REQUEST, "brewery_code": "FINCH"}, who="specialist")

    assert (answer.json["brewery_code"], answer.json["made_by"]) == ("FINCH", "specialist")
    unnamed = world.post("/v1/requests", REQUEST, who="specialist")
    assert unnamed.status_code == 422
    assert unnamed.json["errors"][0]["pointer"] == "#/brewery_code"
    nobody = world.post("/v1/requests", {**REQUEST, "brewery_code": "TEAL"}, who="specialist")
    assert nobody.status_code == 404


def test_requests_are_for_their_brewery_and_the_specialist(world: World) -> None:
    world.grower()
    world.brewery()
    world.brewery("TEAL")
    code = place(world)

    assert {
        who: world.get(f"/v1/requests/{code}", who=who).status_code
        for who in ("FINCH", "specialist", "TEAL", "ALDER", None)
    } == {"FINCH": 200, "specialist": 200, "TEAL": 404, "ALDER": 404, None: 401}
    assert world.post("/v1/requests", REQUEST, who="ALDER").status_code == 403
    assert world.post("/v1/requests", {**REQUEST, "brewery_code": "TEAL"}, who="FINCH").status_code == 403
    refused = world.post("/v1/requests", REQUEST)
    assert (refused.status_code, refused.headers["WWW-Authenticate"]) == (401, 'Bearer realm="oastbook"')


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"alpha_precent_min": 9}, "#/alpha_precent_min"),
        ({"role": "sour"}, "#/role"),
        ({"deliveries": []}, "#/deliveries"),
        ({"deliveries": [{"needed_on": "2027-02-01", "mass_kg": 0}]}, "#/deliveries/0/mass_kg"),
        ({"deliveries": [{"needed_on": "2027-02-01", "mass_kg": 1.0001}]}, "#/deliveries/0/mass_kg"),
        ({"deliveries": [{"needed_on": "2027-02-30", "mass_kg": 1}]}, "#/deliveries/0/needed_on"),
        ({"deliveries": [{"needed_on": "2026-11-24", "mass_kg": 1}]}, "#/deliveries/0/needed_on"),
        ({"deliveries": [{"needed_on": "2027-02-01"}]}, "#/deliveries/0"),
        ({"deliveries": [{"mass_kg": 1}]}, "#/deliveries/0/needed_on"),
        ({"alpha_percent_min": "9"}, "#/alpha_percent_min"),
        ({"alpha_percent_min": 1e300}, "#/alpha_percent_min"),
        ({"lots_max": 2.5}, "#/lots_max"),
        ({"cultivars": ["Hallertau"]}, "#/cultivars/0"),
        ({"cultivars": ["..."]}, "#/cultivars/0"),
        ({"currency": None}, "#/currency"),
        ({"weights": {"colour": 1}}, "#/weights/colour"),
        ({"weights": {"price": -1}}, "#/weights/price"),
        ({"oil_like": {}}, "#/oil_like"),
        ({"oil_like": {"cultivar": "Cascade", "lot_code": "ALDER-2026-01"}}, "#/oil_like"),
        ({"oil_like": {"cultivar": None, "lot_code": None}}, "#/oil_like"),
        ({"oil_like": {"cultivar": "Hallertau"}}, "#/oil_like/cultivar"),
        ({"oil_like": {"cultivar": "Own Seedling 7"}}, "#/oil_like/cultivar"),
        ({"oil_like": {"cultivar": ""}}, "#/oil_like/cultivar"),
        ({"oil_like": {"lot_code": 7}}, "#/oil_like/lot_code"),
        ({"oil_like": {"colour": "green"}}, "#/oil_like/colour"),
        ({"oil_like": "Cascade"}, "#/oil_like"),
        ({"weights": {"profile": 1}}, "#/weights/profile"),
        ({"weights": {"profile": -1}, "oil_like": {"cultivar": "Cascade"}}, "#/weights/profile"),
        ({"note": "\u0000"}, "#/note"),
    ],
    ids=str,
)
def test_post_request_points_at_each_fault(world: World, told: dict[str, Any], pointer: str) -> None:
    world.brewery()

    answer = world.post("/v1/requests", {**REQUEST, **told}, who="FINCH")

    assert (answer.status_code, answer.content_type) == (422, "application/problem+json")
    assert answer.json["type"] == "/problems/invalid-request"
    assert [fault["pointer"] for fault in answer.json["errors"]] == [pointer]
    assert world.get("/v1/requests", who="FINCH").json["items"] == []


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b'{"role": NaN}', "application/json", 400),
        (b"{", "application/json", 400),
        (b"role=aroma", "application/x-www-form-urlencoded", 415),
        (b"[]", "application/json", 422),
    ],
    ids=["nan", "broken", "form", "list"],
)
def test_post_request_refuses_what_is_no_json_object(
    world: World, body: bytes, kind: str, status: int
) -> None:
    world.brewery()

    answer = world.client.post(
        "/v1/requests", data=body, headers={**world.bearing("FINCH"), "Content-Type": kind}
    )

    assert answer.status_code == status
    assert answer.content_type == "application/problem+json"


def test_a_bitterness_target_takes_its_gravity_in_either_scale(world: World) -> None:
    world.brewery()
    target = {"ibu": 35, "volume_l": 20000, "minutes": 60}

    def post(**gravity: float) -> Any:
        wanted = [{"needed_on": "2027-02-01", "bitterness": {**target, **gravity}}]
        return world.post("/v1/requests", {"role": "bittering", "deliveries": wanted}, who="FINCH")

    plato = post(gravity_plato=12.38).json["deliveries"][0]["bitterness"]
    assert plato["gravity_sg"] == pytest.approx(1.05, abs=1e-4)
    assert {**plato, "gravity_sg": 1.05} == {
        "ibu": 35.0,
        "volume_l": 20000.0,
        "gravity_sg": 1.05,
        "at": "boil",
        "minutes": 60.0,
        "temperature_c": None,
    }
    for both in (post(), post(gravity_sg=1.05, gravity_plato=12.0)):
        assert both.status_code == 422
        assert both.json["errors"][0]["pointer"] == "#/deliveries/0/bitterness/gravity_sg"


def test_an_idempotency_key_places_one_request(world: World) -> None:
    world.brewery()
    key = {"Idempotency-Key": "winter-1"}

    first = world.post("/v1/requests", REQUEST, who="FINCH", headers=key)
    again = world.post("/v1/requests", REQUEST, who="FINCH", headers=key)
    other = world.post("/v1/requests", {**REQUEST, "lots_max": 1}, who="FINCH", headers=key)

    assert (again.status_code, again.json, again.headers["ETag"]) == (201, first.json, first.headers["ETag"])
    assert (other.status_code, other.json["type"]) == (422, "/problems/idempotency-key-reused")
    assert len(world.get("/v1/requests", who="FINCH").json["items"]) == 1


def test_patch_request_merges_and_moves_the_etag(world: World) -> None:
    world.brewery()
    code = place(world, weights={"price": 2.0, "oil": 1.0})
    etag = world.get(f"/v1/requests/{code}", who="FINCH").headers["ETag"]

    answer = world.patch(
        f"/v1/requests/{code}",
        {"alpha_percent_min": None, "firmness": "firm", "weights": {"oil": None, "distance": 3}},
        who="FINCH",
        etag=etag,
    )

    assert answer.status_code == 200
    assert (answer.json["alpha_percent_min"], answer.json["firmness"]) == (None, "firm")
    assert answer.json["weights"] == {"price": 2.0, "distance": 3.0}
    assert answer.json["price_per_kg_max"] == 30.0
    assert answer.headers["ETag"] != etag
    stale = world.patch(f"/v1/requests/{code}", {"note": "x"}, who="FINCH", etag=etag)
    assert (stale.status_code, stale.json["type"]) == (412, "/problems/if-match-stale")
    assert world.patch(f"/v1/requests/{code}", {"note": "x"}, who="FINCH", etag=None).status_code == 428


def test_a_wish_for_an_oil_profile_is_named_changed_and_taken_back(world: World) -> None:
    world.grower()
    world.brewery()
    lot = world.listed()
    code = place(world, oil_like={"cultivar": "saaz"}, weights={"profile": 0.5})
    address = f"/v1/requests/{code}"

    assert world.get(address, who="FINCH").json["oil_like"] == {"cultivar": "Saazer", "lot_code": None}
    both = world.patch(address, {"oil_like": {"lot_code": lot}}, who="FINCH")
    assert (both.status_code, both.json["errors"][0]["pointer"]) == (422, "#/oil_like")
    other = world.patch(address, {"oil_like": {"lot_code": lot, "cultivar": None}}, who="FINCH")
    assert other.json["oil_like"] == {"cultivar": None, "lot_code": lot}
    kept = world.patch(address, {"oil_like": {"lot_code": lot}, "note": "x"}, who="FINCH")
    assert kept.json["oil_like"] == other.json["oil_like"]
    weighed = world.patch(address, {"oil_like": None}, who="FINCH")
    assert (weighed.status_code, weighed.json["errors"][0]["pointer"]) == (422, "#/weights/profile")
    gone = world.patch(address, {"oil_like": None, "weights": {"profile": None}}, who="FINCH")
    assert (gone.json["oil_like"], gone.json["weights"]) == (None, {})
    assert world.get(address, who="FINCH").json["oil_like"] is None


def test_a_lot_that_the_brewery_does_not_see_cannot_be_wished_for_whoever_asks(world: World) -> None:
    world.grower()
    world.brewery()
    draft = world.draft()

    for wish in (draft, "ALDER-2026-99"):
        for who, named in (("FINCH", {}), ("specialist", {"brewery_code": "FINCH"})):
            body = {**REQUEST, **named, "oil_like": {"lot_code": wish}}
            answer = world.post("/v1/requests", body, who=who)
            assert (answer.status_code, answer.json["detail"]) == (404, f"there is no lot {wish}")


@pytest.mark.parametrize(
    "change", [{"role": None}, {"deliveries": None}, {"code": "X"}, {"currency": None}], ids=str
)
def test_patch_request_refuses_what_a_request_cannot_be(world: World, change: dict[str, Any]) -> None:
    world.brewery()
    code = place(world)

    answer = world.patch(f"/v1/requests/{code}", change, who="FINCH")

    assert (answer.status_code, answer.json["type"]) == (422, "/problems/invalid-request")


def test_nobody_changes_another_brewerys_request(world: World) -> None:
    world.grower()
    world.brewery()
    world.brewery("TEAL")
    code = place(world)

    for who, status in (("TEAL", 404), ("ALDER", 404), (None, 401)):
        assert world.patch(f"/v1/requests/{code}", {"note": "x"}, who=who).status_code == status
        assert world.delete(f"/v1/requests/{code}", who=who).status_code == status
    assert world.patch(f"/v1/requests/{code}", {"note": "x"}, who="specialist").json["note"] == "x"


def test_a_withdrawn_request_is_shown_and_changes_no_more(world: World) -> None:
    world.brewery()
    code = place(world)
    etag = world.get(f"/v1/requests/{code}", who="FINCH").headers["ETag"]

    assert world.delete(f"/v1/requests/{code}", who="FINCH", etag=None).status_code == 428
    gone = world.delete(f"/v1/requests/{code}", who="FINCH", etag=etag)

    assert (gone.status_code, gone.data) == (204, b"")
    assert world.get(f"/v1/requests/{code}", who="FINCH").json["state"] == "withdrawn"
    for again in (
        world.delete(f"/v1/requests/{code}", who="FINCH"),
        world.patch(f"/v1/requests/{code}", {"note": "x"}, who="FINCH"),
    ):
        assert (again.status_code, again.json["type"], again.json["state"]) == (
            409,
            "/problems/illegal-step",
            "withdrawn",
        )


def test_get_requests_pages_through_ones_own_newest_first(world: World) -> None:
    world.grower()
    world.brewery()
    world.brewery("TEAL")
    codes = [place(world) for _ in range(5)]
    place(world, "TEAL")

    seen, cursor = [], None
    while True:
        page = world.get("/v1/requests", who="FINCH", limit=2, **({"cursor": cursor} if cursor else {}))
        seen += [item["code"] for item in page.json["items"]]
        cursor = page.json["next"]
        if cursor is None:
            break
        assert f"cursor={cursor}" in page.headers["Link"]

    assert seen == codes[::-1]
    assert len(world.get("/v1/requests", who="specialist").json["items"]) == 6
    assert world.get("/v1/requests", who="ALDER").json == {"items": [], "next": None}
    assert world.get("/v1/requests").status_code == 401
    assert world.get("/v1/requests", who="FINCH", state="withdrawn").json["items"] == []
    assert world.get("/v1/requests", who="FINCH", cursor="x").status_code == 422
    assert world.get("/v1/requests", who="FINCH", state="sold").status_code == 422


def test_unknown_codes_are_not_found(world: World) -> None:
    world.brewery()

    for path in ("/v1/requests/NONE", "/v1/requests/NONE/matches", "/v1/reservations/NONE"):
        assert world.get(path, who="FINCH").status_code == 404


WISHES = {
    "certifications": ["organic"],
    "origins": ["CA-NS", "US"],
    "kept_from": "2026-12-15",
    "kept_at_c": 4.0,
    "kept_packing": "open",
}


def test_what_is_wished_of_place_certifier_and_store_is_kept_changed_and_taken_away(world: World) -> None:
    world.brewery()
    place(world, **WISHES)

    kept = world.get("/v1/requests/FINCH-REQ-01", who="FINCH").json
    changed = world.patch(
        "/v1/requests/FINCH-REQ-01",
        {
            "origins": [],
            "certifications": ["Valley Green"],
            "kept_from": None,
            "kept_at_c": None,
            "kept_packing": None,
        },
        who="FINCH",
    )

    assert {name: kept[name] for name in WISHES} == WISHES
    assert changed.status_code == 200, changed.text
    assert {name: changed.json[name] for name in WISHES} == {
        **dict.fromkeys(WISHES),
        "origins": [],
        "certifications": ["Valley Green"],
    }


def test_the_trail_tells_what_a_brewery_wished_for_before(world: World) -> None:
    world.brewery()
    place(world, **WISHES)
    changes = {"origins": [], "kept_from": None, "kept_at_c": None, "kept_packing": None}
    assert world.patch("/v1/requests/FINCH-REQ-01", changes, who="FINCH").status_code == 200

    line = world.get("/v1/changes", who="FINCH").json["items"][0]

    told = {field["name"]: (field["before"], field["after"]) for field in line["fields"]}
    assert (line["kind"], line["act"]) == ("request", "changed")
    assert told == {name: (WISHES[name], after) for name, after in changes.items()}


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"origins": ["Nova Scotia"]}, "#/origins/0"),
        ({"origins": ["XX"]}, "#/origins/0"),
        ({"certifications": ["organic", "-"]}, "#/certifications/1"),
        ({"certifications": "organic"}, "#/certifications"),
        ({"kept_packing": "barrier_low_oxygen"}, "#/kept_packing"),
        ({"kept_at_c": 41}, "#/kept_at_c"),
        ({"kept_packing": None}, "#/kept_from"),
        ({"kept_from": "2026-11-24"}, "#/kept_from"),
        ({"kept_from": "2027-02-02"}, "#/kept_from"),
    ],
    ids=str,
)
def test_wishes_that_cannot_be_are_refused_where_they_stand(
    world: World, told: dict[str, Any], pointer: str
) -> None:
    world.brewery()

    answer = world.post("/v1/requests", {**REQUEST, **WISHES, **told}, who="FINCH")

    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json["errors"]] == [pointer]
