"""Stopping a lot over HTTP, as on the evening somebody smells must."""

import pytest

from tests.builders import World

MOULD = {"concern": "mould", "words": "grey cones and must in box 3"}


@pytest.fixture
def valley(world: World) -> World:
    world.grower()
    world.brewery()
    world.brewery("TEAL")
    return world


def hold(world: World, lot: str, who: str | None = "ALDER") -> str:
    answer = world.post(f"/v1/lots/{lot}/quality-holds", MOULD, who=who)
    assert answer.status_code == 201, answer.text
    return str(answer.json["code"])


def reserve(world: World, lot: str, who: str = "FINCH") -> str:
    made = world.post("/v1/reservations", {"lot_code": lot, "mass_kg": 10.0}, who=who)
    assert made.status_code == 201, made.text
    return str(made.json["code"])


def test_a_held_lot_is_in_no_search_and_takes_no_promise(valley: World) -> None:
    lot = valley.listed()
    wanted = {"role": "aroma", "deliveries": [{"needed_on": "2027-02-01", "mass_kg": 10.0}]}
    request = valley.post("/v1/requests", wanted, who="FINCH").json["code"]
    assert valley.get(f"/v1/requests/{request}/matches", who="FINCH").json["items"]

    hold(valley, lot)

    assert valley.get("/v1/lots").json["items"] == []
    assert valley.get(f"/v1/requests/{request}/matches", who="FINCH").json["items"] == []
    assert valley.get(f"/v1/lots/{lot}").status_code == 404
    assert valley.post("/v1/reservations", {"lot_code": lot, "mass_kg": 1}, who="FINCH").status_code == 404
    own = valley.get(f"/v1/lots/{lot}", who="ALDER").json
    assert (own["on_hold"], own["state"]) == (True, "withdrawn")


def test_promises_wait_and_their_holders_still_see_the_lot(valley: World) -> None:
    lot = valley.listed()
    held, confirmed = reserve(valley, lot), reserve(valley, lot)
    for who in ("FINCH", "ALDER"):
        valley.post(f"/v1/reservations/{confirmed}/confirmation", who=who)
    hold(valley, lot)

    told = {"delivered_on": "2026-11-24", "mass_kg": 10}
    steps = [
        valley.post(f"/v1/reservations/{held}/confirmation", who="FINCH"),
        valley.post(f"/v1/reservations/{confirmed}/delivery", told, who="ALDER"),
        valley.post(f"/v1/lots/{lot}/listing", who="ALDER"),
    ]

    assert [(s.status_code, s.json["type"]) for s in steps] == [(409, "/problems/lot-on-hold")] * 3
    assert valley.get(f"/v1/lots/{lot}", who="FINCH").json["on_hold"] is True
    (seen,) = valley.get(f"/v1/lots/{lot}/quality-holds", who="FINCH").json["items"]
    assert (seen["concern"], seen["is_open"], seen["placed_by"]) == ("mould", True, "grower:ALDER")
    assert valley.get(f"/v1/lots/{lot}/quality-holds", who="TEAL").status_code == 404
    assert valley.delete(f"/v1/reservations/{confirmed}", who="FINCH").status_code == 204


def test_a_lifted_hold_lets_the_grower_list_again(valley: World) -> None:
    lot = valley.listed()
    code = hold(valley, lot)
    path = f"/v1/lots/{lot}/quality-holds/{code}/lifting"

    assert valley.post(path, {}, who="ALDER").status_code == 422
    lifted = valley.post(path, {"finding": "dust of the press, no mould"}, who="ALDER")

    assert (lifted.status_code, lifted.json["is_open"]) == (200, False)
    assert valley.get("/v1/lots").json["items"] == []
    assert valley.post(f"/v1/lots/{lot}/listing", who="ALDER").status_code == 201
    assert valley.post(path, {"finding": "again"}, who="ALDER").status_code == 409


def test_who_may_not_stop_a_lot_is_told_so(valley: World) -> None:
    lot = valley.listed()

    assert valley.post(f"/v1/lots/{lot}/quality-holds", MOULD, who=None).status_code == 401
    assert valley.post(f"/v1/lots/{lot}/quality-holds", MOULD, who="FINCH").status_code == 403
    odd = valley.post(f"/v1/lots/{lot}/quality-holds", {"concern": "smell", "words": "x"}, who="ALDER")
    assert (odd.status_code, odd.json["errors"][0]["pointer"]) == (422, "#/concern")
    specialists = hold(valley, lot, "specialist")
    path = f"/v1/lots/{lot}/quality-holds/{specialists}/lifting"
    assert valley.post(path, {"finding": "it is fine"}, who="ALDER").status_code == 403
