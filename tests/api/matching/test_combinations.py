"""Combinations over JSON."""

from typing import Any

import pytest

from service.api.matching.combinations import AT_ONCE
from tests.builders import World

WANT: dict[str, Any] = {
    "role": "bittering",
    "deliveries": [{"needed_on": "2027-02-01", "mass_kg": 150.0}],
    "alpha_percent_min": 4.0,
    "lots_max": 2,
}


@pytest.fixture
def request_code(world: World) -> str:
    world.grower(), world.brewery(), world.brewery("TEAL")
    world.listed(price_per_kg=24.0), world.listed(price_per_kg=20.0, mass_kg=100.0)
    return str(world.post("/v1/requests", WANT, who="FINCH").json["code"])


def test_two_lots_meet_what_neither_can_alone(world: World, request_code: str) -> None:
    answer = world.post(f"/v1/requests/{request_code}/combinations", {}, who="FINCH")

    assert answer.status_code == 200, answer.text
    told = answer.json
    assert [p["mass_kg"] for p in told["combination"]["parcels"]] == [100.0, 50.0]
    assert told["combination"]["figures"]["amounts"] == {"CAD": 3200.0}
    assert told["proof"]["is_optimal"] is True
    assert told["combination"]["parcels"][0]["alpha_percent_when_needed"]["confidence"] == 0.9
    assert (told["why_none"], told["candidates"]) == (None, 2)


def test_what_would_have_to_give_way_is_told(world: World, request_code: str) -> None:
    answer = world.post(f"/v1/requests/{request_code}/combinations", {"lots_max": 1}, who="specialist")

    assert answer.json["combination"] is None
    assert [(one["limit"], one["would_do"]) for one in answer.json["why_none"]["any_one"]] == [
        ("mass_kg", 120.5),
        ("lots_max", 2.0),
    ]


def test_a_combination_is_for_the_brewery_and_the_specialist(world: World, request_code: str) -> None:
    path = f"/v1/requests/{request_code}/combinations"

    assert world.post(path, {}).status_code == 401
    assert world.post(path, {}, who="TEAL").status_code == 404
    assert world.post(path, {"aim": "dearest"}, who="FINCH").status_code == 422


def test_while_others_work_on_combinations_the_next_is_asked_to_come_again(
    world: World, request_code: str
) -> None:
    with AT_ONCE, AT_ONCE:
        busy = world.post(f"/v1/requests/{request_code}/combinations", {}, who="FINCH")

    assert (busy.status_code, busy.json["type"]) == (503, "/problems/busy")
    assert world.post(f"/v1/requests/{request_code}/combinations", {}, who="FINCH").status_code == 200


def test_what_keeps_every_lot_out_is_named_with_how_many_it_alone_keeps(world: World) -> None:
    world.grower(), world.brewery()
    world.listed(), world.listed(), world.listed(cultivar="Cascade")
    wanted = {**WANT, "cultivars": ["Willamete"], "accept_others": False, "forms": ["whole_cone"]}
    wanted_form = {**WANT, "cultivars": ["Willamette"], "accept_others": False, "forms": ["pellet"]}
    codes = [world.post("/v1/requests", one, who="FINCH").json["code"] for one in (wanted, wanted_form)]

    mistyped, other_form = (
        world.post(f"/v1/requests/{code}/combinations", {}, who="FINCH").json for code in codes
    )

    assert (mistyped["candidates"], mistyped["combination"]) == (0, None)
    assert mistyped["cautions"][0].startswith("No cultivar here goes by the name Willamete.")
    assert "3 lots fail only cultivars" in mistyped["why_none"]["words"]
    assert "2 lots fail only forms" in other_form["why_none"]["words"]
