"""Reservations over HTTP."""

from datetime import timedelta
from typing import Any

import pytest

from service.api.fields import rfc3339
from tests.api.matching.test_requests import place
from tests.builders import World
from tests.factories import NOW


@pytest.fixture
def valley(world: World) -> World:
    world.grower()
    world.brewery()
    world.brewery("TEAL")
    return world


def reserve(world: World, lot_code: str, mass_kg: float = 50.0, *, who: str = "FINCH", **told: Any) -> Any:
    return world.post("/v1/reservations", {"lot_code": lot_code, "mass_kg": mass_kg, **told}, who=who)


def free_kg(world: World, lot_code: str) -> float:
    return float(world.get(f"/v1/lots/{lot_code}", who="specialist").json["free_kg"])


def confirm(world: World, code: str, who: str | None, body: Any = None) -> Any:
    return world.post(f"/v1/reservations/{code}/confirmation", body, who=who)


def deliver(world: World, code: str, who: str | None = "ALDER", **told: Any) -> Any:
    body = {"delivered_on": "2026-11-24", "mass_kg": 49.5, **told}
    return world.post(f"/v1/reservations/{code}/delivery", body, who=who)


def confirmed(world: World, lot_code: str, mass_kg: float = 50.0, **told: Any) -> str:
    code = str(reserve(world, lot_code, mass_kg, **told).json["code"])
    assert confirm(world, code, "FINCH").status_code == 200
    assert confirm(world, code, "ALDER").json["state"] == "confirmed"
    return code


def test_a_brewerys_reservation_is_held_for_seven_days(valley: World) -> None:
    lot = valley.listed()

    answer = reserve(valley, lot)

    assert answer.status_code == 201
    body = dict(answer.json)
    made, until = body.pop("made_at"), body.pop("held_until")
    assert (made[:10], until[:10], made[10:]) == ("2026-11-25", "2026-12-02", until[10:])
    assert body == {
        "code": "FINCH-RES-01",
        "state": "held",
        "lot_code": lot,
        "request_code": None,
        "brewery_code": "FINCH",
        "grower_code": "ALDER",
        "mass_kg": 50.0,
        "confirmed_by": [],
        "delivered_on": None,
        "delivered_kg": None,
        "returned_kg": 0.0,
        "made_by": "brewery:FINCH",
        "changed_at": made,
        "changed_by": "brewery:FINCH",
    }
    assert answer.headers["Location"] == "/v1/reservations/FINCH-RES-01"
    assert free_kg(valley, lot) == 70.5
    again = valley.get("/v1/reservations/FINCH-RES-01", who="ALDER")
    assert (again.json, again.headers["ETag"]) == (answer.json, answer.headers["ETag"])


def test_post_reservation_refuses_more_than_is_free(valley: World) -> None:
    lot = valley.listed()

    answer = reserve(valley, lot, 120.501)

    assert answer.status_code == 409
    assert answer.content_type == "application/problem+json"
    assert answer.json == {
        "type": "/problems/not-enough-stock",
        "title": "The lot holds too little free mass",
        "status": 409,
        "detail": f"lot {lot} has 120.5 kg free, 120.501 kg were asked for",
        "instance": "/v1/reservations",
        "lot_code": lot,
        "free_kg": 120.5,
        "wanted_kg": 120.501,
    }
    assert free_kg(valley, lot) == 120.5


def test_post_reservation_refuses_a_mass_in_which_the_lot_is_not_sold(valley: World) -> None:
    boxes = [{"kind": "box", "count": 6, "net_kg": 20.0}]
    lot = valley.listed(mass_kg=120.0, packages=boxes, sold_in="whole_packages")

    answer = reserve(valley, lot, 50)

    assert (answer.status_code, answer.json["type"]) == (409, "/problems/not-sold-in-that-mass")
    assert (answer.json["nearest_below_kg"], answer.json["nearest_above_kg"]) == (40.0, 60.0)
    assert reserve(valley, lot, 60).status_code == 201
    smallest = valley.listed(order_kg_min=5)
    assert reserve(valley, smallest, 4.999).json["order_kg_min"] == 5.0


@pytest.mark.parametrize(
    ("days", "status"), [(-1, 422), (0, 422), (1, 201), (59, 201), (61, 422), (40000, 422)]
)
def test_a_hold_ends_ahead_and_within_60_days(valley: World, days: int, status: int) -> None:
    lot = valley.listed()

    answer = reserve(valley, lot, held_until=rfc3339(NOW.replace(hour=0, minute=0) + timedelta(days=days)))

    assert answer.status_code == status
    if status == 422:
        assert (answer.json["type"], answer.json["name"]) == ("/problems/out-of-range", "held_until")


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"mass_kg": 0}, "#/mass_kg"),
        ({"mass_kg": -5}, "#/mass_kg"),
        ({"mass_kg": 1.0001}, "#/mass_kg"),
        ({"mass_kg": "50"}, "#/mass_kg"),
        ({"mass_kg": 1e12}, "#/mass_kg"),
        ({"mass_kg": True}, "#/mass_kg"),
        ({"held_until": "2026-12-01"}, "#/held_until"),
        ({"held_until": "2026-12-01T10:00:00"}, "#/held_until"),
        ({"lot_code": "al der"}, "#/lot_code"),
        ({"lot": "X"}, "#/lot"),
    ],
    ids=str,
)
def test_post_reservation_points_at_each_fault(valley: World, told: dict[str, Any], pointer: str) -> None:
    lot = valley.listed()

    answer = valley.post("/v1/reservations", {"lot_code": lot, "mass_kg": 5, **told}, who="FINCH")

    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json["errors"]] == [pointer]
    assert free_kg(valley, lot) == 120.5


def test_a_lot_that_is_not_shown_is_unknown(valley: World) -> None:
    draft = valley.draft()

    assert reserve(valley, draft).status_code == 404
    assert reserve(valley, "NONE").status_code == 404
    assert reserve(valley, draft, who="TEAL").json["detail"] == f"there is no lot {draft}"
    assert valley.post("/v1/reservations", {"lot_code": draft, "mass_kg": 1}).status_code == 401


def test_only_ones_own_request_is_named_and_only_while_it_is_open(valley: World) -> None:
    lot = valley.listed()
    foreign, own = place(valley, "TEAL"), place(valley)

    assert reserve(valley, lot, request_code=foreign).status_code == 404
    assert reserve(valley, lot, request_code=own).json["request_code"] == own
    valley.delete(f"/v1/requests/{own}", who="FINCH")
    closed = reserve(valley, lot, request_code=own)
    assert (closed.status_code, closed.json["state"]) == (409, "withdrawn")


def test_an_idempotency_key_holds_once(valley: World) -> None:
    lot = valley.listed()
    body, key = {"lot_code": lot, "mass_kg": 50}, {"Idempotency-Key": "k1"}

    first = valley.post("/v1/reservations", body, who="FINCH", headers=key)
    again = valley.post("/v1/reservations", body, who="FINCH", headers=key)
    other = valley.post("/v1/reservations", {**body, "mass_kg": 51}, who="FINCH", headers=key)

    assert (first.status_code, again.status_code, again.json) == (201, 201, first.json)
    assert (other.status_code, other.json["type"]) == (422, "/problems/idempotency-key-reused")
    assert free_kg(valley, lot) == 70.5


def test_from_hold_to_delivery(valley: World) -> None:
    lot = valley.listed()
    code = str(reserve(valley, lot).json["code"])

    assert confirm(valley, code, "ALDER").json["confirmed_by"] == ["grower"]
    both = confirm(valley, code, "FINCH")
    assert (both.status_code, both.json["state"], both.json["held_until"]) == (200, "confirmed", None)
    assert free_kg(valley, lot) == 70.5
    delivered = deliver(valley, code)
    assert delivered.status_code == 200
    assert {name: delivered.json[name] for name in ("state", "delivered_on", "delivered_kg", "mass_kg")} == {
        "state": "delivered",
        "delivered_on": "2026-11-24",
        "delivered_kg": 49.5,
        "mass_kg": 50.0,
    }
    assert free_kg(valley, lot) == 71.0
    for step in (
        confirm(valley, code, "FINCH"),
        deliver(valley, code),
        valley.delete(f"/v1/reservations/{code}", who="FINCH"),
    ):
        assert (step.status_code, step.json["type"]) == (409, "/problems/illegal-step")
        assert step.json["state"] == "delivered"
    assert free_kg(valley, lot) == 71.0


@pytest.mark.parametrize(
    ("told", "name"),
    [
        ({"mass_kg": 50.001}, "mass_kg"),
        ({"delivered_on": "2026-11-27"}, "delivered_on"),
        ({"delivered_on": "2026-08-28"}, "delivered_on"),
    ],
    ids=str,
)
def test_a_delivery_that_cannot_be_is_refused(valley: World, told: dict[str, Any], name: str) -> None:
    lot = valley.listed()
    code = confirmed(valley, lot)

    answer = deliver(valley, code, **told)

    assert (answer.status_code, answer.json["type"], answer.json["name"]) == (
        422,
        "/problems/out-of-range",
        name,
    )
    assert valley.get(f"/v1/reservations/{code}", who="FINCH").json["state"] == "confirmed"


def test_only_the_growers_side_delivers(valley: World) -> None:
    lot = valley.listed()
    code = confirmed(valley, lot)

    assert deliver(valley, code, "FINCH").status_code == 403
    assert deliver(valley, code, "TEAL").status_code == 404
    assert deliver(valley, code, None).status_code == 401
    assert deliver(valley, code, "specialist").json["changed_by"] == "specialist"


def test_a_growers_post_is_an_offer_that_takes_nothing(valley: World) -> None:
    lot = valley.listed()
    request = place(valley)

    offer = reserve(valley, lot, 60, who="ALDER", request_code=request)

    assert offer.status_code == 201
    assert {name: offer.json[name] for name in ("state", "brewery_code", "confirmed_by", "held_until")} == {
        "state": "offered",
        "brewery_code": "FINCH",
        "confirmed_by": ["grower"],
        "held_until": None,
    }
    assert free_kg(valley, lot) == 120.5
    taken = confirm(valley, offer.json["code"], "FINCH")
    assert (taken.json["state"], free_kg(valley, lot)) == ("confirmed", 60.5)
    assert valley.get(f"/v1/requests/{request}", who="FINCH").json["state"] == "filled"


def test_an_offer_that_others_overtook_is_refused(valley: World) -> None:
    lot = valley.listed()
    offer = reserve(valley, lot, 100, who="ALDER", request_code=place(valley)).json["code"]
    assert reserve(valley, lot, 50, who="TEAL").status_code == 201

    answer = confirm(valley, offer, "FINCH")

    assert (answer.status_code, answer.json["type"], answer.json["free_kg"]) == (
        409,
        "/problems/not-enough-stock",
        70.5,
    )
    assert valley.get(f"/v1/reservations/{offer}", who="FINCH").json["state"] == "offered"


def test_an_offer_names_a_request_and_ones_own_lot(valley: World) -> None:
    valley.grower("ROWAN")
    lot = valley.listed()
    request = place(valley)

    unnamed = reserve(valley, lot, who="ALDER")
    assert (unnamed.status_code, unnamed.json["errors"][0]["pointer"]) == (422, "#/request_code")
    assert reserve(valley, lot, who="ROWAN", request_code=request).status_code == 403
    assert reserve(valley, lot, who="ALDER", request_code="NONE").status_code == 404
    for told, pointer in (
        ({"brewery_code": "FINCH"}, "#/brewery_code"),
        ({"grower_code": "ROWAN"}, "#/grower_code"),
    ):
        answer = reserve(valley, lot, who="ALDER", request_code=request, **told)
        assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, pointer)


def test_the_specialist_offers_for_a_grower_and_holds_for_a_brewery(valley: World) -> None:
    lot = valley.listed()
    request = place(valley)

    offer = reserve(valley, lot, who="specialist", request_code=request, grower_code="ALDER").json
    hold = reserve(valley, lot, who="specialist", brewery_code="TEAL").json

    assert (offer["state"], offer["brewery_code"], offer["made_by"]) == ("offered", "FINCH", "specialist")
    assert (hold["state"], hold["brewery_code"], hold["made_by"]) == ("held", "TEAL", "specialist")
    both = reserve(valley, lot, who="specialist", brewery_code="TEAL", grower_code="ALDER")
    assert (both.status_code, both.json["errors"][0]["pointer"]) == (422, "#/grower_code")
    assert reserve(valley, lot, who="specialist", brewery_code="NOBODY").status_code == 404


def test_the_specialist_names_the_side_it_confirms_for(valley: World) -> None:
    code = str(reserve(valley, valley.listed()).json["code"])

    assert confirm(valley, code, "specialist").status_code == 422
    assert confirm(valley, code, "specialist", {"grower_code": "ROWAN"}).status_code == 422
    assert confirm(valley, code, "specialist", {"grower_code": "ALDER"}).json["confirmed_by"] == ["grower"]
    assert confirm(valley, code, "specialist", {"brewery_code": "FINCH"}).json["state"] == "confirmed"


def test_a_party_confirms_for_itself_only(valley: World) -> None:
    code = str(reserve(valley, valley.listed()).json["code"])

    assert confirm(valley, code, "FINCH", {"grower_code": "ALDER"}).status_code == 403
    assert confirm(valley, code, "FINCH", {"brewery_code": "FINCH"}).status_code == 200
    bare = valley.client.post(f"/v1/reservations/{code}/confirmation", headers=valley.bearing("ALDER"))
    assert (bare.status_code, bare.json["state"]) == (200, "confirmed")


def test_a_third_party_does_not_know_of_it(valley: World) -> None:
    valley.grower("ROWAN")
    code = str(reserve(valley, valley.listed()).json["code"])
    path = f"/v1/reservations/{code}"

    for who, status in (("TEAL", 404), ("ROWAN", 404), (None, 401)):
        assert valley.get(path, who=who).status_code == status
        assert valley.delete(path, who=who).status_code == status
        assert confirm(valley, code, who).status_code == status
        assert deliver(valley, code, who).status_code == status
    assert valley.get(path, who="specialist").json["state"] == "held"


def test_release_makes_the_mass_free_again(valley: World) -> None:
    lot = valley.listed()
    held, agreed = str(reserve(valley, lot, 20).json["code"]), confirmed(valley, lot, 50)

    grower = valley.delete(f"/v1/reservations/{agreed}", who="ALDER")
    assert (grower.status_code, grower.json["state"]) == (409, "confirmed")
    assert valley.delete(f"/v1/reservations/{held}", who="ALDER", etag=None).status_code == 204
    assert free_kg(valley, lot) == 70.5
    assert valley.delete(f"/v1/reservations/{agreed}", who="FINCH", etag=None).status_code == 204
    assert free_kg(valley, lot) == 120.5
    assert valley.get(f"/v1/reservations/{agreed}", who="ALDER").json["state"] == "released"
    assert valley.delete(f"/v1/reservations/{held}", who="FINCH").status_code == 409


def test_a_commitment_survives_the_withdrawal_of_the_listing(valley: World) -> None:
    lot = valley.listed()
    code = str(reserve(valley, lot).json["code"])

    assert valley.delete(f"/v1/lots/{lot}/listing", who="ALDER").status_code == 204

    assert reserve(valley, lot, 1, who="TEAL").status_code == 404
    again = reserve(valley, lot, 1)
    assert (again.status_code, again.json["state"]) == (409, "withdrawn")
    confirm(valley, code, "FINCH")
    assert confirm(valley, code, "ALDER").json["state"] == "confirmed"
    assert deliver(valley, code).json["state"] == "delivered"


def test_an_announced_lot_is_reserved_but_not_delivered(valley: World) -> None:
    lot = valley.draft(
        harvested_on=None,
        mass_kg=None,
        packing=None,
        stored_at_c=None,
        expected_kg=80,
        harvest_window_from="2027-08-20",
        harvest_window_to="2027-09-05",
    )
    listing = valley.post(f"/v1/lots/{lot}/listing", {"as": "announced"}, who="ALDER")
    assert listing.status_code == 201, listing.text

    assert reserve(valley, lot, 80.5).status_code == 409
    code = confirmed(valley, lot)
    assert free_kg(valley, lot) == 30.0
    assert deliver(valley, code).status_code == 409


def test_a_request_is_filled_and_opens_again(valley: World) -> None:
    lot = valley.listed()
    request = place(valley)
    code = confirmed(valley, lot, 60, request_code=request)

    assert valley.get(f"/v1/requests/{request}", who="FINCH").json["state"] == "filled"
    more = reserve(valley, lot, 1, request_code=request)
    assert (more.status_code, more.json["state"]) == (409, "filled")
    valley.delete(f"/v1/reservations/{code}", who="FINCH")
    assert valley.get(f"/v1/requests/{request}", who="FINCH").json["state"] == "open"


def test_get_reservations_are_ones_own_on_either_side(valley: World) -> None:
    valley.grower("ROWAN")
    lot, other = valley.listed(), valley.listed("ROWAN")
    request = place(valley)
    first = reserve(valley, lot, 10, request_code=request).json["code"]
    second = reserve(valley, other, 10).json["code"]
    third = reserve(valley, lot, 10, who="TEAL").json["code"]

    def listed(who: str, **query: Any) -> list[str]:
        return [item["code"] for item in valley.get("/v1/reservations", who=who, **query).json["items"]]

    assert listed("FINCH") == [second, first]
    assert listed("ALDER") == [third, first]
    assert listed("specialist") == [third, second, first]
    assert listed("FINCH", lot_code=lot) == [first]
    assert listed("FINCH", request_code=request) == [first]
    assert listed("FINCH", state="expired") == []
    assert valley.get("/v1/reservations").status_code == 401
    page = valley.get("/v1/reservations", who="specialist", limit=2)
    rest = valley.get("/v1/reservations", who="specialist", limit=2, cursor=page.json["next"])
    assert [item["code"] for item in (*page.json["items"], *rest.json["items"])] == [third, second, first]
    assert rest.json["next"] is None


def test_an_offer_goes_with_the_listing_and_comes_again_with_it(valley: World) -> None:
    lot = valley.listed()
    code = reserve(valley, lot, who="ALDER", request_code=place(valley)).json["code"]
    valley.delete(f"/v1/lots/{lot}/listing", who="ALDER")

    refused = confirm(valley, code, "FINCH")

    assert (refused.status_code, refused.json["type"]) == (409, "/problems/illegal-step")
    assert refused.json["state"] == "withdrawn"
    assert free_kg(valley, lot) == 120.5
    assert valley.post(f"/v1/lots/{lot}/listing", {}, who="ALDER").status_code == 201
    assert confirm(valley, code, "FINCH").json["state"] == "confirmed"


def test_a_grower_is_not_told_what_became_of_a_request(valley: World) -> None:
    lot = valley.listed()
    filled, withdrawn = place(valley), place(valley)
    confirmed(valley, lot, 110, request_code=filled)
    assert valley.delete(f"/v1/requests/{withdrawn}", who="FINCH").status_code == 204
    nobodys = "FINCH-REQ-09"

    def offer(code: str, who: str = "ALDER") -> Any:
        return reserve(valley, lot, 1, who=who, request_code=code)

    unknown = offer(nobodys).json
    for code in (filled, withdrawn):
        answer = offer(code).json
        assert answer == {**unknown, "detail": unknown["detail"].replace(nobodys, code)}
        assert offer(code, "FINCH").json["type"] == "/problems/illegal-step"
        assert offer(code, "specialist").json["type"] == "/problems/illegal-step"
    assert unknown["type"] == "/problems/not-found"


@pytest.mark.parametrize(
    ("told", "status"), [({"mass_kg": 999}, 409), ({"held_until": "2026-11-01T00:00:00Z"}, 422)]
)
def test_an_offer_that_cannot_be_made_tells_nothing_of_requests(
    valley: World, told: dict[str, Any], status: int
) -> None:
    lot, request = valley.listed(), place(valley)

    answers = [
        reserve(valley, lot, who="ALDER", **{"request_code": code, **told})
        for code in (request, "FINCH-REQ-09")
    ]

    assert [answer.status_code for answer in answers] == [status, status]
    assert answers[0].json == answers[1].json
