"""Saved searches, standing requests and the feed, over HTTP."""

from datetime import timedelta
from typing import Any

import pytest

from service.market.trade.notices import Telling
from service.usecases.trade.notices import Sent, gather_notices, note_letter, take_letters
from tests.builders import World
from tests.factories import NOW

TELLING = Telling(now=NOW, public_url="https://hops.example.org", by_mail=True)


@pytest.fixture
def valley(world: World) -> World:
    world.grower()
    world.brewery()
    world.brewery("TEAL")
    return world


def gather(world: World) -> tuple[int, int]:
    return world.records.write(lambda session: gather_notices(session, TELLING))


def told(world: World, who: str, **query: Any) -> list[str]:
    answer = world.get("/v1/notices", who=who, **query)
    assert answer.status_code == 200, answer.text
    return [notice["source"] for notice in answer.json["items"]]


def save(world: World, filters: dict[str, Any], who: str | None = "FINCH", **more: Any) -> Any:
    return world.post("/v1/saved-searches", {"name": "aroma", "filters": filters, **more}, who=who)


def stand(world: World, who: str = "FINCH", **more: Any) -> str:
    wanted = {"role": "aroma", "deliveries": [{"needed_on": "2027-02-01", "mass_kg": 10.0}]}
    answer = world.post("/v1/requests", {**wanted, "standing": True, **more}, who=who)
    assert answer.status_code == 201, answer.text
    return str(answer.json["code"])


def test_whoever_asked_is_told_of_a_lot_that_fits_and_nobody_else(valley: World) -> None:
    fits = save(valley, {"role": "aroma", "free_kg_min": 100}).json["code"]
    save(valley, {"role": "aroma", "alpha_percent_min": 9}, who="TEAL")
    standing = stand(valley)
    stand(valley, who="TEAL", alpha_percent_min=9)
    stand(valley, who="TEAL", standing=False)

    lot = valley.listed()

    assert gather(valley) == (1, 2)
    assert told(valley, "FINCH") == [f"request:{standing}", f"search:{fits}"]
    assert told(valley, "TEAL") == []
    assert told(valley, "specialist") == told(valley, "FINCH")
    notice = valley.get("/v1/notices", who="FINCH").json["items"][0]
    assert notice["lot_code"] == lot
    assert f"https://hops.example.org/v1/lots/{lot}" in notice["words"]


def test_a_standing_request_tells_only_of_lots_with_the_certifications_place_and_alpha_it_wishes_for(
    valley: World,
) -> None:
    store = {"kept_from": "2026-11-25", "kept_packing": "open", "alpha_percent_min": 4.5}
    stand(valley, certifications=["organic"])
    stand(valley, origins=["US"])
    stand(valley, **store, kept_at_c=30.0)
    cold = stand(valley, **store, kept_at_c=0.0)

    valley.listed()

    assert gather(valley) == (1, 1)
    assert told(valley, "FINCH") == [f"request:{cold}"]


def test_of_what_was_listed_before_somebody_asked_nobody_is_told(valley: World) -> None:
    valley.listed()
    valley.at(NOW + timedelta(minutes=1))
    save(valley, {})
    stand(valley)

    assert gather(valley) == (1, 0)


def test_gathering_twice_tells_nobody_twice(valley: World) -> None:
    save(valley, {})
    valley.listed()

    assert [gather(valley), gather(valley)] == [(1, 1), (0, 0)]


def test_a_lot_that_went_meanwhile_is_told_to_nobody(valley: World) -> None:
    save(valley, {})
    lot = valley.listed()
    valley.delete(f"/v1/lots/{lot}/listing", who="ALDER")

    assert gather(valley) == (1, 0)


def test_every_holder_is_told_of_a_recall(valley: World) -> None:
    lot = valley.listed()
    valley.post("/v1/reservations", {"lot_code": lot, "mass_kg": 10}, who="TEAL")
    recall = {"lot_code": lot, "concern": "mould", "words": "do not use"}
    gather(valley)
    valley.post("/v1/recalls", recall, who="specialist")
    gather(valley)

    assert told(valley, "TEAL")[0].startswith("recall:")
    assert told(valley, "ALDER")[0].startswith("recall:")
    assert told(valley, "FINCH") == []


def promise(world: World, lot: str, who: str, **more: Any) -> str:
    answer = world.post("/v1/reservations", {"lot_code": lot, "mass_kg": 10, **more}, who=who)
    assert answer.status_code == 201, answer.text
    return f"/v1/reservations/{answer.json['code']}"


def kinds(world: World, who: str) -> list[str]:
    return [notice["kind"] for notice in world.get("/v1/notices", who=who).json["items"]]


def test_a_hold_is_told_to_its_grower_and_what_becomes_of_it_to_the_other_side(valley: World) -> None:
    lot = valley.listed()
    path = promise(valley, lot, "FINCH")
    gather(valley)
    assert (kinds(valley, "ALDER"), kinds(valley, "FINCH")) == (["hold_made"], [])

    valley.post(f"{path}/confirmation", who="ALDER")
    assert gather(valley) == (0, 0)
    for _ in range(2):
        valley.post(f"{path}/confirmation", who="FINCH")
    assert gather(valley) == (1, 1)
    valley.delete(path, who="FINCH")
    gather(valley)

    assert kinds(valley, "ALDER") == ["reservation_released", "reservation_confirmed", "hold_made"]
    assert (kinds(valley, "FINCH"), kinds(valley, "TEAL")) == ([], [])
    notice = valley.get("/v1/notices", who="ALDER").json["items"][0]
    assert notice["source"] == f"reservation:{path.rpartition('/')[2]}"
    assert notice["subject"] == f"Released, FINCH-RES-01: 10 kg of lot {lot}"


def test_an_offer_is_told_to_its_brewery_and_the_specialists_word_to_both(valley: World) -> None:
    wanted = stand(valley, standing=False)
    path = promise(valley, valley.listed(), "ALDER", request_code=wanted)
    gather(valley)
    assert (kinds(valley, "FINCH"), kinds(valley, "ALDER")) == (["offer_made"], [])

    valley.delete(path, who="specialist")
    gather(valley)

    assert kinds(valley, "FINCH") == ["reservation_released", "offer_made"]
    assert kinds(valley, "ALDER") == ["reservation_released"]


def test_of_a_hold_that_went_meanwhile_only_its_end_is_told(valley: World) -> None:
    path = promise(valley, valley.listed(), "FINCH")
    valley.delete(path, who="FINCH")

    # The listing, the hold, and its release: one of them concerns somebody.
    assert gather(valley) == (3, 1)
    assert kinds(valley, "ALDER") == ["reservation_released"]


def test_what_was_refused_is_told_to_nobody(valley: World) -> None:
    lot = valley.listed()
    gather(valley)

    more = valley.post("/v1/reservations", {"lot_code": lot, "mass_kg": 1000}, who="FINCH")

    assert more.status_code == 409
    assert gather(valley) == (0, 0)


def test_a_notice_is_marked_as_read_by_whom_it_is_for(valley: World) -> None:
    save(valley, {})
    valley.listed()
    gather(valley)
    number = valley.get("/v1/notices", who="FINCH").json["items"][0]["number"]
    path = f"/v1/notices/{number}/reading"

    assert valley.post(path, who="TEAL").status_code == 404
    assert valley.post(path, who=None).status_code == 401
    read = valley.post(path, who="FINCH").json["read_at"]
    assert read is not None
    assert valley.post(path, who="FINCH").json["read_at"] == read
    assert told(valley, "FINCH", unread="true") == []


def test_filters_that_do_not_go_together_are_refused_when_they_are_saved(valley: World) -> None:
    odd = save(valley, {"within_km": 80})
    mistyped = save(valley, {"alpha_precent_min": 5})

    assert (odd.status_code, mistyped.status_code) == (422, 422)
    assert mistyped.json["errors"][0]["pointer"] == "#/filters/alpha_precent_min"
    assert save(valley, {}, who="ALDER").status_code == 403
    assert save(valley, {}, who=None).status_code == 401


def test_a_saved_search_is_shown_and_forgotten_by_its_brewery(valley: World) -> None:
    code = save(valley, {"role": "bittering", "free_kg_min": 12.5}).json["code"]

    (shown,) = valley.get("/v1/saved-searches", who="FINCH").json["items"]
    assert shown["filters"] == {"role": "bittering", "free_kg_min": 12.5}
    assert valley.get("/v1/saved-searches", who="TEAL").json["items"] == []
    assert valley.get("/v1/saved-searches", who="ALDER").json["items"] == []
    assert valley.delete(f"/v1/saved-searches/{code}", who="TEAL").status_code == 404
    assert valley.delete(f"/v1/saved-searches/{code}", who="FINCH").status_code == 204
    assert valley.get("/v1/saved-searches", who="FINCH").json["items"] == []


def test_letters_are_taken_up_noted_and_tried_again(valley: World) -> None:
    save(valley, {})
    valley.listed()
    gather(valley)
    write = valley.records.write

    def take(minutes: int) -> list[int]:
        at = NOW + timedelta(minutes=minutes)
        letters = write(lambda session: take_letters(session, host="hops.example.org", now=at))
        return [letter.notice_number for letter in letters]

    (number,) = take(0)
    assert take(0) == []
    failed = Sent(problem="451 later")
    write(lambda session: note_letter(session, number=number, sent=failed, now=NOW))
    assert take(2) == [number]
    write(lambda session: note_letter(session, number=number, sent=Sent(), now=NOW))
    assert take(60) == []
    assert valley.get("/v1/notices", who="FINCH").json["items"][0]["mail_state"] == "sent"


def test_a_party_without_an_address_reads_the_feed(valley: World) -> None:
    valley.brewery("WREN", email=None)
    save(valley, {}, who="WREN")
    valley.listed()
    gather(valley)

    letters = valley.records.write(lambda session: take_letters(session, host="x", now=NOW))

    assert letters == []
    (notice,) = valley.get("/v1/notices", who="WREN").json["items"]
    assert (notice["mail_state"], notice["mail_problem"]) == ("given_up", "the party gave no address")
