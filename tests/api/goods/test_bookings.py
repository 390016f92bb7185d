from typing import Any

import pytest

from tests.builders import World

SAMPLE = {"kind": "sample", "mass_kg": 0.25, "booked_on": "2026-11-25", "reason": "to the laboratory"}


@pytest.fixture
def lot(world: World) -> str:
    world.grower()
    world.brewery()
    return world.listed(mass_kg=100)


def free_kg(world: World, lot: str) -> Any:
    return world.get(f"/v1/lots/{lot}", who="ALDER").json["free_kg"]


def test_a_sample_leaves_the_lot_to_the_gram_and_comes_back_when_it_was_a_slip(
    world: World, lot: str
) -> None:
    booked = world.post(f"/v1/lots/{lot}/bookings", SAMPLE, who="ALDER")

    assert booked.status_code == 201
    assert booked.json["code"] == "B1"
    assert booked.json["made_by"] == "grower:ALDER"
    assert free_kg(world, lot) == 99.75
    path = f"/v1/lots/{lot}/bookings/B1/reversal"
    assert world.post(path, {}, who="ALDER").json["errors"][0]["pointer"] == "#/reason"
    back = world.post(path, {"reason": "the sample stayed here"}, who="ALDER")
    assert (back.status_code, back.json["taken_back_by"]) == (200, "grower:ALDER")
    assert free_kg(world, lot) == 100
    assert world.post(path, {"reason": "again"}, who="ALDER").status_code == 409
    listed = world.get(f"/v1/lots/{lot}/bookings", who="specialist").json
    assert [b["taken_back_reason"] for b in listed["items"]] == ["the sample stayed here"]


def test_only_free_kilograms_are_booked(world: World, lot: str) -> None:
    world.post("/v1/reservations", {"lot_code": lot, "mass_kg": 60}, who="FINCH")

    answer = world.post(f"/v1/lots/{lot}/bookings", {**SAMPLE, "mass_kg": 40.001}, who="ALDER")

    assert answer.status_code == 409
    assert answer.json["type"] == "/problems/not-enough-stock"
    assert answer.json["free_kg"] == 40
    assert world.post(f"/v1/lots/{lot}/bookings", {**SAMPLE, "mass_kg": 40}, who="ALDER").status_code == 201
    assert world.get(f"/v1/lots/{lot}").json["state"] == "sold_out"


def test_a_reweighing_says_what_the_scale_says(world: World, lot: str) -> None:
    promise = world.post("/v1/reservations", {"lot_code": lot, "mass_kg": 60}, who="FINCH").json["code"]
    for who in ("ALDER", "FINCH"):
        world.post(f"/v1/reservations/{promise}/confirmation", who=who)
    told = {"delivered_on": "2026-11-25", "mass_kg": 50}
    assert world.post(f"/v1/reservations/{promise}/delivery", told, who="ALDER").status_code == 200
    world.post(f"/v1/lots/{lot}/bookings", SAMPLE, who="ALDER")
    count = {"kind": "reweighing_loss", "booked_on": "2026-11-25", "reason": "counted"}

    lost = world.post(f"/v1/lots/{lot}/bookings", {**count, "weighed_kg": 48.5}, who="ALDER")
    more = world.post(f"/v1/lots/{lot}/bookings", {**count, "weighed_kg": 48.6}, who="ALDER")

    assert lost.json["mass_kg"] == 1.25
    assert free_kg(world, lot) == 48.5
    assert more.status_code == 422
    assert "only a loss is booked" in more.json["detail"]


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"kind": "moved"}, "#/kind"),
        ({"mass_kg": 0}, "#/mass_kg"),
        ({"mass_kg": None}, "#/mass_kg"),
        ({"mass_kg": 0.0001}, "#/mass_kg"),
        ({"reason": " "}, "#/reason"),
        ({"weighed_kg": 3}, "#/weighed_kg"),
    ],
)
def test_what_is_wrong_in_a_booking_is_named(
    world: World, lot: str, told: dict[str, Any], pointer: str
) -> None:
    answer = world.post(f"/v1/lots/{lot}/bookings", {**SAMPLE, **told}, who="ALDER")

    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json["errors"]] == [pointer]


def test_what_left_a_lot_is_for_its_grower_alone(world: World, lot: str) -> None:
    path = f"/v1/lots/{lot}/bookings"
    world.post(path, SAMPLE, who="ALDER")
    hidden = world.draft()

    for who, status in ((None, 401), ("FINCH", 403)):
        assert world.get(path, who=who).status_code == status
        assert world.post(path, SAMPLE, who=who).status_code == status
    assert world.get(f"/v1/lots/{hidden}/bookings", who="FINCH").status_code == 404
    assert world.post(f"{path}/B9/reversal", {"reason": "none"}, who="ALDER").status_code == 404


def test_a_key_books_once(world: World, lot: str) -> None:
    headers = {"Idempotency-Key": "twice"}
    answers = [world.post(f"/v1/lots/{lot}/bookings", SAMPLE, who="ALDER", headers=headers) for _ in range(2)]

    assert [answer.json["code"] for answer in answers] == ["B1", "B1"]
    assert free_kg(world, lot) == 99.75


def test_a_draft_of_which_something_was_booked_is_not_discarded(world: World, lot: str) -> None:
    draft = world.draft()
    world.post(f"/v1/lots/{draft}/bookings", SAMPLE, who="ALDER")

    answer = world.delete(f"/v1/lots/{draft}", who="ALDER")

    assert answer.status_code == 409
    assert "were booked" in answer.json["detail"]
    assert world.patch(f"/v1/lots/{draft}", {"mass_kg": 0.2}, who="ALDER").status_code == 409


def test_a_draft_that_was_on_hold_is_not_discarded(world: World, lot: str) -> None:
    draft = world.draft()
    path = f"/v1/lots/{draft}/quality-holds"
    hold = world.post(path, {"concern": "mould", "words": "grey"}, who="ALDER").json["code"]

    stopped = world.delete(f"/v1/lots/{draft}", who="ALDER")
    assert (stopped.status_code, stopped.json["type"]) == (409, "/problems/lot-on-hold")
    world.post(f"{path}/{hold}/lifting", {"finding": "only dust"}, who="ALDER")
    kept = world.delete(f"/v1/lots/{draft}", who="ALDER")
    assert (kept.status_code, "on hold once" in kept.json["detail"]) == (409, True)
