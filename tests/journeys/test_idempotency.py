"""Requests that are sent again: the first answer is given again, and nothing is made twice."""

import threading
from datetime import timedelta

import pytest
from flask import Flask

from service.records.session import Records
from service.request_context import Runtime
from service.usecases.people.access import Sent, repeat_or_do
from tests.builders import LOT, REPORT, World
from tests.conftest import PUBLIC_URL
from tests.factories import NOW

KEY = {"Idempotency-Key": "once-7"}


def codes(world: World, who: str = "ALDER") -> list[str]:
    """A grower's lots."""
    return [lot["code"] for lot in world.get("/v1/lots", who=who, mine="true").json["items"]]


def test_the_same_key_and_body_give_the_first_answer_again(world: World) -> None:
    world.grower("ALDER")
    first = world.post("/v1/lots", LOT, who="ALDER", headers=KEY)
    world.patch(f"/v1/lots/{first.json['code']}", {"note": "changed since"}, who="ALDER")

    again = world.post("/v1/lots", LOT, who="ALDER", headers=KEY)

    assert (again.status_code, again.get_data()) == (201, first.get_data())
    assert again.headers["Location"] == first.headers["Location"]
    assert again.headers["ETag"] == first.headers["ETag"]
    assert codes(world) == [first.json["code"]]


def test_without_a_key_each_request_makes_its_own(world: World) -> None:
    world.grower("ALDER")
    for _ in range(2):
        world.post("/v1/lots", LOT, who="ALDER")

    assert codes(world) == ["ALDER-2026-01", "ALDER-2026-02"]


def test_another_body_under_the_key_is_refused(world: World) -> None:
    world.grower("ALDER")
    world.post("/v1/lots", LOT, who="ALDER", headers=KEY)

    answer = world.post("/v1/lots", {**LOT, "mass_kg": 1}, who="ALDER", headers=KEY)

    assert (answer.status_code, answer.json["type"]) == (422, "/problems/idempotency-key-reused")
    assert len(codes(world)) == 1


def test_a_key_belongs_to_one_token_and_one_path(world: World) -> None:
    for grower in ("ALDER", "ROWAN"):
        world.grower(grower)
        assert world.post("/v1/lots", LOT, who=grower, headers=KEY).json["grower_code"] == grower
    for code in (world.draft(), world.draft()):
        answer = world.post(f"/v1/lots/{code}/lab-reports", REPORT, who="ALDER", headers=KEY)
        assert answer.headers["Location"] == f"/v1/lots/{code}/lab-reports"
        assert len(world.get(f"/v1/lots/{code}/lab-reports", who="ALDER").json["items"]) == 1


def test_a_refused_request_does_not_use_its_key_up(world: World) -> None:
    world.grower("ALDER")
    code = world.draft()
    refused = world.post(f"/v1/lots/{code}/listing", {}, who="ALDER", headers=KEY)
    world.report(code)

    answer = world.post(f"/v1/lots/{code}/listing", {}, who="ALDER", headers=KEY)

    assert (refused.status_code, answer.status_code) == (422, 201)


def test_a_key_is_free_again_after_a_day(world: World, app: Flask, records: Records) -> None:
    world.grower("ALDER")
    world.post("/v1/lots", LOT, who="ALDER", headers=KEY)
    app.extensions["oastbook"] = Runtime(records, PUBLIC_URL, clock=lambda: NOW + timedelta(days=2))

    world.post("/v1/lots", {**LOT, "mass_kg": 1}, who="ALDER", headers=KEY)

    assert codes(world) == ["ALDER-2026-01", "ALDER-2026-02"]


@pytest.mark.parametrize(("hours", "done"), [(23.99, 1), (24, 2)])
def test_an_answer_is_kept_for_24_hours(world: World, records: Records, hours: float, done: int) -> None:
    world.grower("ALDER")
    token_id = records.read(lambda session: _token_id(session))
    calls = []

    def do() -> tuple[str, int, dict[str, str]]:
        calls.append(1)
        return "{}", 201, {}

    for moment in (NOW, NOW + timedelta(hours=hours)):
        records.write(
            lambda session, moment=moment: repeat_or_do(
                session,
                Sent(token_id=token_id, path="/v1/lots", key="k", body_sha256="b", now=moment),
                do=do,
            )
        )

    assert len(calls) == done


def _token_id(session: object) -> int:
    from service.records.tables import TokenRow

    return int(session.query(TokenRow.id).order_by(TokenRow.id.desc()).first()[0])  # type: ignore[attr-defined]


@pytest.mark.parametrize("key", ["", "x" * 201, "caf\xe9\x01"])
def test_a_key_that_cannot_be_kept_is_refused(world: World, key: str) -> None:
    world.grower("ALDER")

    answer = world.post("/v1/lots", LOT, who="ALDER", headers={"Idempotency-Key": key})

    assert answer.status_code == 422
    assert answer.json["errors"][0]["parameter"] == "Idempotency-Key"
    assert codes(world) == []


def test_a_twin_that_is_still_running_makes_nothing_twice(committed_world: World) -> None:
    """On PostgreSQL the twin is told to wait; on SQLite it waits, and is given the first answer."""
    world = committed_world
    world.grower("ALDER")
    dialect = world.records.engine.dialect.name
    answers = []
    begun, go = threading.Event(), threading.Event()

    def slow(session: object) -> None:
        from service.records.people import access

        token_id = _token_id(session)
        assert access.claim_key(session, token_id=token_id, path="/v1/lots", key="once-7")  # type: ignore[arg-type]
        begun.set()
        go.wait(10)

    holder = threading.Thread(target=lambda: world.records.write(slow))
    holder.start()
    begun.wait(10)
    twin = threading.Thread(
        target=lambda: answers.append(world.post("/v1/lots", LOT, who="ALDER", headers=KEY))
    )
    twin.start()
    twin.join(1.0)
    waited = twin.is_alive()
    go.set()
    holder.join()
    twin.join()

    if dialect == "sqlite":
        assert waited
        assert answers[0].status_code == 201
    else:
        assert not waited
        assert (answers[0].status_code, answers[0].json["type"]) == (409, "/problems/idempotency-key-busy")
        assert world.post("/v1/lots", LOT, who="ALDER", headers=KEY).status_code == 201
    assert codes(world) == ["ALDER-2026-01"]
