"""Samples over HTTP, from the asking to the offer."""

from typing import Any

import pytest

from service.market.trade.notices import Telling
from service.usecases.trade.notices import gather_notices
from tests.api.trade.test_reservations import free_kg
from tests.builders import World
from tests.factories import NOW


@pytest.fixture
def valley(world: World) -> World:
    world.grower()
    world.grower("ROWAN")
    world.brewery()
    world.brewery("TEAL")
    return world


def ask(world: World, lot: str, who: str | None = "FINCH", **told: Any) -> Any:
    return world.post("/v1/rub-samples", {"lot_code": lot, "mass_g": 250, **told}, who=who)


def come(world: World, lot: str) -> str:
    path = f"/v1/rub-samples/{ask(world, lot).json['code']}"
    for step, body, who in (
        ("answer", {"approves": True}, "ALDER"),
        ("dispatch", {"sent_on": "2026-11-24"}, "ALDER"),
        ("arrival", {"received_on": "2026-11-25"}, "FINCH"),
    ):
        assert world.post(f"{path}/{step}", body, who=who).status_code == 200
    return path


def test_a_sample_goes_out_of_the_lot_and_leads_to_an_offer(valley: World) -> None:
    lot = valley.listed()
    path = come(valley, lot)
    assert free_kg(valley, lot) == 120.25

    shown = valley.get(path, who="FINCH").json
    selected = valley.post(f"{path}/selection", {"mass_kg": 40}, who="FINCH")

    assert (shown["state"], shown["booking_code"]) == ("received", "B1")
    assert "dogs" in shown["cautions"][0]
    assert selected.status_code == 201, selected.text
    offer = selected.json["reservation"]
    assert (offer["state"], offer["confirmed_by"], offer["held_until"]) == ("offered", ["brewery"], None)
    assert selected.json["sample"]["reservation_code"] == offer["code"]
    assert free_kg(valley, lot) == 120.25
    assert valley.post(f"{path}/selection", {"mass_kg": 40}, who="FINCH").status_code == 409


def test_the_growers_word_takes_what_was_selected_while_it_is_free(valley: World) -> None:
    lot = valley.listed()
    first, second = come(valley, lot), come(valley, lot)
    codes = [
        valley.post(f"{path}/selection", {"mass_kg": 70}, who="FINCH").json["reservation"]["code"]
        for path in (first, second)
    ]

    def confirm(code: str, who: str) -> Any:
        return valley.post(f"/v1/reservations/{code}/confirmation", who=who)

    assert [confirm(code, "FINCH").json["state"] for code in codes] == ["offered", "offered"]
    assert free_kg(valley, lot) == 120.0
    taken, gone = (confirm(code, "ALDER") for code in codes)

    assert (taken.json["state"], taken.json["confirmed_by"]) == ("confirmed", ["grower", "brewery"])
    assert (gone.status_code, gone.json["type"]) == (409, "/problems/not-enough-stock")
    assert free_kg(valley, lot) == 50.0
    assert valley.post("/v1/reservations", {"lot_code": lot, "mass_kg": 50}, who="FINCH").status_code == 201


def test_what_was_selected_waits_for_the_growers_answer(valley: World) -> None:
    lot = valley.listed()
    path = come(valley, lot)
    valley.post(f"{path}/selection", {"mass_kg": 40, "held_until": "2026-11-30T10:00:00Z"}, who="FINCH")
    told = Telling(now=NOW, public_url="https://hops.example.org", by_mail=False)
    valley.records.write(lambda session: gather_notices(session, told))

    (notice,) = valley.get("/v1/notices", who="ALDER").json["items"]

    assert notice["kind"] == "offer_made"
    assert f"FINCH offers to take 40 kg of lot {lot} until 2026-11-30 10:00 UTC" in notice["words"]
    assert valley.get("/v1/notices", who="FINCH").json["items"] == []


def test_grams_that_were_sent_are_not_taken_back_into_the_lot(valley: World) -> None:
    lot = valley.listed()
    by_hand = {"kind": "sample", "mass_kg": 0.1, "booked_on": "2026-11-25", "reason": "to the laboratory"}
    valley.post(f"/v1/lots/{lot}/bookings", by_hand, who="ALDER")
    path = come(valley, lot)
    sample = valley.get(path, who="FINCH").json

    def take_back(code: str, who: str = "ALDER") -> Any:
        return valley.post(f"/v1/lots/{lot}/bookings/{code}/reversal", {"reason": "a slip"}, who=who)

    for who in ("ALDER", "specialist"):
        refused = take_back(sample["booking_code"], who)
        assert (refused.status_code, refused.json["state"]) == (409, "received")
        assert sample["code"] in refused.json["detail"]
    assert free_kg(valley, lot) == 120.15
    assert take_back("B1").status_code == 200
    assert free_kg(valley, lot) == 120.25


def test_notes_stay_with_the_brewery_also_in_the_trail(valley: World) -> None:
    lot = valley.listed()
    path = come(valley, lot)

    own = valley.post(f"{path}/notes", {"notes": "cat, and orange peel"}, who="FINCH")

    assert own.json["notes"] == "cat, and orange peel"
    for who in ("ALDER", "specialist"):
        assert valley.get(path, who=who).json["notes"] is None
        assert "orange" not in valley.get("/v1/changes", who=who, limit=100).text
    assert valley.post(f"{path}/notes", {"notes": "x"}, who="specialist").status_code == 403
    valley.post(f"{path}/notes", {"notes": "orange peel", "notes_shared": True}, who="FINCH")
    assert valley.get(path, who="ALDER").json["notes"] == "orange peel"


def test_strangers_and_wrong_sides_are_refused(valley: World) -> None:
    lot = valley.listed()
    code = ask(valley, lot).json["code"]
    path = f"/v1/rub-samples/{code}"

    assert ask(valley, lot, who=None).status_code == 401
    assert ask(valley, lot, who="ALDER").status_code == 403
    assert ask(valley, lot, mass_g=5000).status_code == 422
    assert ask(valley, valley.draft()).status_code == 404
    for who in ("TEAL", "ROWAN"):
        assert valley.get(path, who=who).status_code == 404
    assert valley.post(f"{path}/answer", {"approves": True}, who="FINCH").status_code == 403
    assert valley.post(f"{path}/dispatch", {"sent_on": "2026-11-24"}, who="ALDER").status_code == 409
    assert valley.delete(path, who="FINCH").status_code == 204
    assert valley.post(f"{path}/answer", {"approves": True}, who="ALDER").status_code == 409


def test_each_side_lists_its_own_samples(valley: World) -> None:
    lot = valley.listed()
    ours, theirs = ask(valley, lot).json["code"], ask(valley, lot, who="TEAL").json["code"]

    def codes(who: str, **query: Any) -> list[str]:
        return [s["code"] for s in valley.get("/v1/rub-samples", who=who, **query).json["items"]]

    assert codes("FINCH") == [ours]
    assert codes("ALDER") == [theirs, ours]
    assert codes("ROWAN") == []
    assert codes("specialist", lot_code=lot, state="asked") == [theirs, ours]
    first = valley.get("/v1/rub-samples", who="ALDER", limit=1).json
    assert codes("ALDER", limit=1, cursor=first["next"]) == [ours]
