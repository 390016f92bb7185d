"""A recall over HTTP: a wire in one bale, and it is in parts, in pooled pellets, at two breweries."""

from typing import Any

import pytest

from tests.api.processing.test_steps import pelletize, split
from tests.builders import World

WIRE = {"concern": "foreign_matter", "words": "wire from the trellis; do not use, ring the yard"}


@pytest.fixture
def spread(world: World) -> tuple[World, dict[str, str]]:
    """A lot of ALDER, a part of it, and pellets that ROWAN keeps, pooled of both; sold to two breweries."""
    for code in ("ALDER", "ROWAN"):
        world.grower(code)
    for code in ("FINCH", "TEAL", "WREN"):
        world.brewery(code)
    lot, other = world.listed(mass_kg=120), world.listed("ROWAN", mass_kg=100)
    part = split(world, lot, mass_kg=30).json["code"]
    pellets = pelletize(world, {lot: 40, other: 40}, 76, who="specialist", grower_code="ROWAN").json["code"]
    for code, who, brewery in ((lot, "ALDER", "FINCH"), (pellets, "ROWAN", "TEAL")):
        if code == pellets:
            world.report(
                pellets, "ROWAN", sampled_on="2026-11-21", analysed_on="2026-11-23", hop_storage_index=0.3
            )
            listed = world.post(f"/v1/lots/{pellets}/listing", {}, who="ROWAN")
            assert listed.status_code == 201, listed.text
        made = world.post("/v1/reservations", {"lot_code": code, "mass_kg": 10}, who=brewery)
        path = f"/v1/reservations/{made.json['code']}"
        for side in (brewery, who):
            world.post(f"{path}/confirmation", who=side)
        told = {"delivered_on": "2026-11-24", "mass_kg": 10}
        assert world.post(f"{path}/delivery", told, who=who).status_code == 200
    return world, {"lot": lot, "part": part, "pellets": pellets, "other": other}


def recalled(world: World, lot: str, who: str = "ALDER") -> Any:
    answer = world.post("/v1/recalls", {"lot_code": lot, **WIRE}, who=who)
    assert answer.status_code == 201, answer.text
    return answer.json


def test_a_recall_reaches_parts_and_pellets_and_every_holder(spread: tuple[World, dict[str, str]]) -> None:
    world, codes = spread

    recall = recalled(world, codes["lot"])
    whole = world.get(f"/v1/recalls/{recall['code']}", who="specialist").json

    reached = {(line["lot_code"], line["holder"], line["mass_kg"]) for line in whole["lines"]}
    assert reached == {
        (codes["lot"], "grower:ALDER", 40),
        (codes["lot"], "brewery:FINCH", 10),
        (codes["part"], "grower:ALDER", 30),
        (codes["pellets"], "grower:ROWAN", 66),
        (codes["pellets"], "brewery:TEAL", 10),
    }
    for stopped in ("lot", "part", "pellets"):
        assert world.get(f"/v1/lots/{codes[stopped]}", who="specialist").json["on_hold"] is True
    assert world.get(f"/v1/lots/{codes['other']}", who="ROWAN").json["on_hold"] is False
    refused = split(world, codes["lot"], mass_kg=5)
    assert (refused.status_code, refused.json["type"]) == (409, "/problems/lot-on-hold")


def test_each_holder_sees_and_answers_its_own(spread: tuple[World, dict[str, str]]) -> None:
    world, codes = spread
    code = recalled(world, codes["lot"])["code"]
    path = f"/v1/recalls/{code}"

    assert [line["holder"] for line in world.get(path, who="TEAL").json["lines"]] == ["brewery:TEAL"]
    assert "FINCH" not in world.get(path, who="TEAL").text
    own = world.get(path, who="ALDER").json
    assert "TEAL" not in world.get(path, who="ALDER").text
    assert (own["elsewhere"], own["elsewhere_unanswered"]) == (2, 2)
    assert world.get(path, who="WREN").status_code == 404
    assert world.get(path, who=None).status_code == 401
    assert [r["code"] for r in world.get("/v1/recalls", who="TEAL").json["items"]] == [code]
    assert world.get("/v1/recalls", who="WREN").json["items"] == []

    answer = world.post(f"{path}/acknowledgement", {"left_kg": 4, "words": "6 kg brewed"}, who="TEAL")
    assert (answer.status_code, answer.json["unanswered"]) == (200, 0)
    assert world.post(f"{path}/acknowledgement", {}, who="TEAL").status_code == 409
    assert world.post(f"{path}/acknowledgement", {"left_kg": 11}, who="FINCH").status_code == 422
    for_finch = world.post(f"{path}/acknowledgement", {"brewery_code": "FINCH"}, who="specialist")
    assert for_finch.status_code == 200
    assert for_finch.json["unanswered"] == 3


def test_closing_lifts_its_holds_and_the_growers_list_again(spread: tuple[World, dict[str, str]]) -> None:
    world, codes = spread
    code = recalled(world, codes["lot"], who="specialist")["code"]
    lifting = f"/v1/lots/{codes['lot']}/quality-holds/H1/lifting"

    assert world.post(lifting, {"finding": "nothing"}, who="specialist").status_code == 409
    refused = world.post(f"/v1/recalls/{code}/closing", {"finding": "nothing"}, who="ALDER")
    closed = world.post(f"/v1/recalls/{code}/closing", {"finding": "the magnet caught it"}, who="specialist")

    assert (refused.status_code, closed.status_code) == (403, 200)
    assert closed.json["is_open"] is False
    for stopped in ("lot", "part", "pellets"):
        assert world.get(f"/v1/lots/{codes[stopped]}", who="specialist").json["on_hold"] is False
    assert world.post(f"/v1/lots/{codes['lot']}/listing", who="ALDER").status_code == 201
    assert world.post(f"/v1/recalls/{code}/acknowledgement", {}, who="FINCH").status_code == 409


def test_the_trail_of_a_recall_leaks_no_holder_to_another(spread: tuple[World, dict[str, str]]) -> None:
    world, codes = spread
    world.post("/v1/reservations", {"lot_code": codes["pellets"], "mass_kg": 5}, who="WREN")
    recalled(world, codes["lot"])

    seen = world.get("/v1/changes", who="WREN", lot_code=codes["pellets"], limit=100).text

    assert "recall_line" in seen
    assert "TEAL" not in seen


def test_only_its_grower_or_the_specialist_recalls_a_lot(spread: tuple[World, dict[str, str]]) -> None:
    world, codes = spread
    told = {"lot_code": codes["lot"], **WIRE}

    assert world.post("/v1/recalls", told, who=None).status_code == 401
    assert world.post("/v1/recalls", told, who="FINCH").status_code == 403
    odd = world.post("/v1/recalls", {"lot_code": codes["lot"]}, who="ALDER")
    assert {error["pointer"] for error in odd.json["errors"]} == {"#/concern", "#/words"}
