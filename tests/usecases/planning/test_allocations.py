"""Plans of the region as people use them: made in one call, looked at, accepted."""

import logging
from collections.abc import Callable
from typing import Any

import pytest

from service.records.trade import outbox
from tests.builders import World

WANT: dict[str, Any] = {"role": "aroma", "deliveries": [{"needed_on": "2027-02-01", "mass_kg": 60.0}]}


def wanted(world: World, who: str = "FINCH", **told: Any) -> str:
    answer = world.post("/v1/requests", {**WANT, **told}, who=who)
    assert answer.status_code == 201, answer.text
    return str(answer.json["code"])


def planned(world: World, **told: Any) -> dict[str, Any]:
    answer = world.post("/v1/allocations", told, who="specialist")
    assert answer.status_code == 201, answer.text
    assert world.get(answer.headers["Location"], who="specialist").json == answer.json
    return dict(answer.json)


def test_a_plan_serves_open_requests_from_free_lots_and_holds_what_is_promised_first(world: World) -> None:
    world.grower(), world.brewery(), world.brewery("TEAL")
    lot = world.listed(mass_kg=120.5)
    first, second = wanted(world), wanted(world, "TEAL")
    held = {"lot_code": lot, "request_code": first, "mass_kg": 45.0}
    assert world.post("/v1/reservations", held, who="FINCH").status_code == 201

    plan = planned(world)["plan"]

    assert [(r["request_code"], r["wanted_kg"], r["served_kg"]) for r in plan["requests"]] == [
        (first, 15.0, 15.0),
        (second, 60.0, 60.0),
    ]
    assert [(one["free_kg"], one["taken_kg"], one["left_kg"]) for one in plan["lots"]] == [(75.5, 75.0, 0.5)]
    assert (plan["proofs"][-1]["is_optimal"], plan["proofs"][-1]["gap_percent"]) == (True, 0)
    assert plan["first_come"]["mass_kg"] == 75.0
    assert plan["summary"][:2] == [
        "2 of 2 requests get their whole need and 0 a part of it; first come, first served: 2 and 0",
        "75.0 kg of the 75.0 kg wanted are covered; first come, first served: 75.0 kg",
    ]


def test_the_log_says_how_far_a_plan_is(world: World, caplog: pytest.LogCaptureFixture) -> None:
    world.grower(), world.brewery()
    world.listed(mass_kg=60.0)
    wanted(world)

    with caplog.at_level(logging.INFO, logger="service.usecases.planning"):
        planned(world)

    assert [line.split(": ")[1] for line in caplog.messages] == [
        "reading what is wanted and what is free",
        "solving the integer program of 1 pairs of request and lot",
        "integer program, solved to the end",
    ]


class WhenSolving(logging.Handler):
    """Does something in the middle of a plan."""

    def __init__(self, act: Callable[[], int]) -> None:
        super().__init__()
        self.act = act
        self.statuses: list[int] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Act once the program is being solved."""
        if "solving the integer program" in record.getMessage():
            self.statuses.append(self.act())


def test_others_write_while_a_plan_is_made(committed_world: World, caplog: pytest.LogCaptureFixture) -> None:
    world = committed_world
    world.grower(), world.brewery()
    world.listed(mass_kg=60.0)
    address = f"/v1/requests/{wanted(world)}"
    meanwhile = WhenSolving(lambda: world.patch(address, {"note": "ring first"}, who="FINCH").status_code)
    log = logging.getLogger("service.usecases.planning")
    log.addHandler(meanwhile)

    with caplog.at_level(logging.INFO, logger=log.name):
        planned(world)
    log.removeHandler(meanwhile)

    assert meanwhile.statuses == [200]


def test_a_plan_sent_again_with_its_key_is_answered_again_and_made_once(world: World) -> None:
    world.grower(), world.brewery()
    world.listed(mass_kg=60.0)
    wanted(world)
    key = {"Idempotency-Key": "plan of the first of December"}

    first, again = (world.post("/v1/allocations", {}, who="specialist", headers=key) for _ in range(2))
    other = world.post("/v1/allocations", {"rule": "arrival"}, who="specialist", headers=key)

    assert (first.status_code, again.status_code, again.json) == (201, 201, first.json)
    assert other.json["type"] == "/problems/idempotency-key-reused"
    assert len(world.get("/v1/allocations", who="specialist").json["items"]) == 1


def test_accepting_makes_offers_and_names_what_is_gone_meanwhile(world: World) -> None:
    world.grower(), world.brewery(), world.brewery("TEAL")
    lot, other = world.listed(mass_kg=60.0), world.listed(mass_kg=60.0)
    first, second = wanted(world, lots_max=1), wanted(world, "TEAL", lots_max=1)
    told = planned(world)
    lot_of = {r["request_code"]: r["parcels"][0]["lot_code"] for r in told["plan"]["requests"]}
    assert set(lot_of.values()) == {lot, other}
    gone = {"lot_code": lot_of[second], "mass_kg": 10.0}
    assert world.post("/v1/reservations", gone, who="FINCH").status_code == 201

    answer = world.post(f"/v1/allocations/{told['code']}/acceptance", who="specialist")

    assert answer.status_code == 201, answer.text
    assert [(o["request_code"], o["lot_code"], o["mass_kg"]) for o in answer.json["offers"]] == [
        (first, lot_of[first], 60.0)
    ]
    assert [(o["request_code"], o["refusal"]) for o in answer.json["refused"]] == [
        (second, "not-enough-stock")
    ]
    offer = world.get(f"/v1/reservations/{answer.json['offers'][0]['reservation_code']}", who="FINCH")
    assert (offer.json["state"], offer.json["confirmed_by"]) == ("offered", ["grower"])
    events = world.records.read(lambda session: outbox.take_waiting(session, limit=9))
    assert [event.reservation_code for event in events if event.kind == "offer_made"] == [offer.json["code"]]
    assert world.get(f"/v1/lots/{lot_of[first]}").json["free_kg"] == 60.0
    again = world.post(f"/v1/allocations/{told['code']}/acceptance", who="specialist")
    assert (again.status_code, again.json["type"]) == (409, "/problems/illegal-step")


def test_what_no_lot_can_serve_is_told_with_the_limit_that_keeps_it_out(world: World) -> None:
    world.grower(), world.brewery()
    world.listed()
    code = wanted(world, forms=["pellet"])

    plan = planned(world, rule="pro_rata")["plan"]

    assert [(r["request_code"], r["lacks"]) for r in plan["requests"]] == [
        (code, ["no free lot keeps all its limits: 1 lots fail only forms"])
    ]


def test_accepting_offers_nothing_to_a_request_that_wants_something_else_by_now(world: World) -> None:
    world.grower(), world.brewery(), world.brewery("TEAL")
    world.listed(mass_kg=60.0), world.listed(mass_kg=60.0)
    changed, noted = wanted(world, lots_max=1), wanted(world, "TEAL", lots_max=1)
    told = planned(world)
    less = {"deliveries": [{"needed_on": "2027-02-01", "mass_kg": 1.0}]}
    assert world.patch(f"/v1/requests/{changed}", less, who="FINCH").status_code == 200
    assert world.patch(f"/v1/requests/{noted}", {"note": "ring first"}, who="TEAL").status_code == 200

    answer = world.post(f"/v1/allocations/{told['code']}/acceptance", who="specialist")

    assert [offer["request_code"] for offer in answer.json["offers"]] == [noted]
    assert [(o["request_code"], o["refusal"]) for o in answer.json["refused"]] == [(changed, "illegal-step")]
    assert "was changed after the plan was made" in answer.json["refused"][0]["detail"]
