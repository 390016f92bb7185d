"""Receipts over HTTP: taken, taken for less, or sent back."""

from typing import Any

import pytest

from tests.api.trade.test_reservations import confirmed, deliver, free_kg
from tests.builders import World

ARRIVED = {
    "received_on": "2026-11-24",
    "accepted_kg": 49.4,
    "temperature_c": 6.5,
    "condition": "sound",
    "packages": [{"kind": "foil", "count": 9, "net_kg": 5}],
}


@pytest.fixture
def delivered(world: World) -> tuple[World, str, str]:
    world.grower()
    world.brewery()
    world.brewery("TEAL")
    lot = world.listed()
    code = confirmed(world, lot)
    assert deliver(world, code).status_code == 200
    return world, lot, f"/v1/reservations/{code}"


def receive(world: World, path: str, who: str | None = "FINCH", **told: Any) -> Any:
    return world.post(f"{path}/receipt", {**ARRIVED, **told}, who=who)


def test_both_sides_read_what_the_brewery_received(delivered: tuple[World, str, str]) -> None:
    world, _, path = delivered
    assert world.get(f"{path}/receipt", who="FINCH").status_code == 404

    made = receive(world, path)

    assert made.status_code == 201, made.text
    shown = world.get(f"{path}/receipt", who="ALDER").json
    assert shown == made.json
    assert (shown["accepted_kg"], shown["temperature_c"], shown["made_by"]) == (49.4, 6.5, "brewery:FINCH")
    assert world.get(f"{path}/receipt", who="TEAL").status_code == 404
    assert world.get(f"{path}/receipt").status_code == 401


def test_a_correction_stands_over_the_first_and_the_trail_keeps_both(
    delivered: tuple[World, str, str],
) -> None:
    world, lot, path = delivered
    receive(world, path)

    assert receive(world, path, accepted_kg=49.1).status_code == 422
    corrected = receive(world, path, accepted_kg=49.1, reason="the pallet was on the scale")

    assert corrected.status_code == 201
    trail = world.get("/v1/changes", who="FINCH", kind="receipt", lot_code=lot).json["items"]
    changed = next(field for field in trail[0]["fields"] if field["name"] == "accepted_kg")
    assert (changed["before"], changed["after"]) == (49.4, 49.1)


def test_refused_hops_are_free_again_only_once_the_grower_has_them_back(
    delivered: tuple[World, str, str],
) -> None:
    world, lot, path = delivered
    refused = receive(
        world, path, accepted_kg=0, refused_kg=49.5, condition="musty", reason="mould in two foils"
    )
    assert refused.status_code == 201
    assert free_kg(world, lot) == 71.0

    told = {"returned_on": "2026-11-25", "mass_kg": 49.0}
    assert world.post(f"{path}/return", told, who="FINCH").status_code == 403
    back = world.post(f"{path}/return", told, who="ALDER")

    assert back.status_code == 200, back.text
    assert back.json["reservation"]["returned_kg"] == 49.0
    assert "Analyse it again" in back.json["cautions"][0]
    assert free_kg(world, lot) == 120.0
    assert world.post(f"{path}/return", told, who="ALDER").status_code == 422
    assert receive(world, path, reason="changed our mind").status_code == 409


def test_refused_hops_come_back_in_as_many_trips_as_it_takes(delivered: tuple[World, str, str]) -> None:
    world, lot, path = delivered
    receive(world, path, accepted_kg=0, refused_kg=49.5, condition="musty", reason="mould in two foils")

    def bring(mass_kg: float) -> Any:
        return world.post(f"{path}/return", {"returned_on": "2026-11-25", "mass_kg": mass_kg}, who="ALDER")

    assert (bring(10).status_code, free_kg(world, lot)) == (200, 81.0)
    more = bring(39.501)
    assert (more.status_code, more.json["high"]) == (422, 39.5)
    last = bring(39.5)

    assert (last.status_code, last.json["reservation"]["returned_kg"]) == (200, 49.5)
    assert free_kg(world, lot) == 120.5
    assert bring(0.001).status_code == 409


def test_who_may_not_receive_is_told_so(delivered: tuple[World, str, str]) -> None:
    world, _, path = delivered

    assert receive(world, path, who="ALDER").status_code == 403
    assert receive(world, path, who="TEAL").status_code == 404
    assert receive(world, path, who=None).status_code == 401
    odd = receive(world, path, accepted_kg=-1, condition="odd")
    assert {error["pointer"] for error in odd.json["errors"]} == {"#/accepted_kg", "#/condition"}
    assert (
        world.post(f"{path}/return", {"returned_on": "2026-11-25", "mass_kg": 1}, who="ALDER").status_code
        == 409
    )


def test_a_recall_names_the_packages_that_the_brewery_counted(delivered: tuple[World, str, str]) -> None:
    world, lot, path = delivered
    concern = {"lot_code": lot, "concern": "foreign_matter", "words": "wire; ring the yard"}

    def packages_of(holder: str) -> list[tuple[str, int, float]]:
        made = world.post("/v1/recalls", concern, who="ALDER").json
        (line,) = (line for line in made["lines"] if line["holder"] == holder)
        return [(p["kind"], p["count"], p["net_kg"]) for p in line["packages"]]

    own = [
        (p["kind"], p["count"], p["net_kg"])
        for p in world.get(f"/v1/lots/{lot}", who="ALDER").json["packages"]
    ]
    assert packages_of("brewery:FINCH") == own

    assert receive(world, path).status_code == 201

    assert packages_of("brewery:FINCH") == [("foil", 9, 5)]
    assert packages_of("grower:ALDER") == own


def test_a_part_is_accepted_a_part_refused_and_the_rest_is_short(delivered: tuple[World, str, str]) -> None:
    world, lot, path = delivered

    made = receive(world, path, accepted_kg=40.0, refused_kg=9.0, reason="two foils were warm")

    assert made.status_code == 201, made.text
    assert (made.json["accepted_kg"], made.json["refused_kg"], made.json["short_kg"]) == (40.0, 9.0, 0.5)
    too_much = {"returned_on": "2026-11-25", "mass_kg": 9.1}
    assert world.post(f"{path}/return", too_much, who="ALDER").json["high"] == 9.0
    back = world.post(f"{path}/return", {**too_much, "mass_kg": 9.0}, who="ALDER")
    assert back.status_code == 200
    # What was accepted and what is short stays out of the lot, to the gram.
    assert free_kg(world, lot) == 120.5 - 49.5 + 9.0
    rows = world.get("/v1/deliveries.csv", who="FINCH").text.splitlines()
    row = dict(zip(rows[0].split(","), rows[1].split(","), strict=True))
    assert (row["delivered_kg"], row["returned_kg"], row["billed_kg"], row["short_kg"]) == (
        "49.5",
        "9",
        "40",
        "0.5",
    )
    assert row["amount"] == "960.00"
