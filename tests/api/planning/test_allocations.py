"""Allocations over JSON: who may, what is refused, and the list."""

import pytest

from tests.builders import World


@pytest.mark.parametrize(("who", "status"), [(None, 401), ("FINCH", 403), ("ALDER", 403)])
def test_only_the_specialist_plans_for_the_region(world: World, who: str | None, status: int) -> None:
    world.grower(), world.brewery()

    assert world.post("/v1/allocations", {}, who=who).status_code == status
    assert world.get("/v1/allocations", who=who).status_code == status
    assert world.get("/v1/allocations/ALLOCATION-0001", who=who).status_code == status
    assert world.post("/v1/allocations/ALLOCATION-0001/acceptance", {}, who=who).status_code == status


def test_a_plan_is_answered_in_one_call_with_what_was_asked_for(world: World) -> None:
    asked = world.post("/v1/allocations", {"rule": "firmness", "note": "after picking"}, who="specialist")

    assert asked.status_code == 201
    told = world.get(asked.headers["Location"], who="specialist").json
    assert told == asked.json
    assert (told["rule"], told["note"], told["accepted_at"]) == ("firmness", "after picking", None)
    assert told["plan"]["rule_words"].startswith("firm requests first")
    assert told["plan"]["requests"] == []


def test_what_cannot_be_ordered_is_named(world: World) -> None:
    body = {"rule": "loudest", "seconds_max": 3600, "rounds_max": 3}
    answer = world.post("/v1/allocations", body, who="specialist")

    assert answer.status_code == 422
    assert {error["pointer"] for error in answer.json["errors"]} == {
        "#/rule",
        "#/seconds_max",
        "#/rounds_max",
    }


def test_allocations_are_listed_newest_first_page_by_page(world: World) -> None:
    made = [world.post("/v1/allocations", {}, who="specialist").json["code"] for _ in range(3)]

    first = world.get("/v1/allocations", who="specialist", limit=2).json
    rest = world.get("/v1/allocations", who="specialist", limit=2, cursor=first["next"]).json

    assert [item["code"] for item in [*first["items"], *rest["items"]]] == made[::-1]
    assert rest["next"] is None
    assert "plan" not in first["items"][0]


def test_an_allocation_that_never_was_is_not_found(world: World) -> None:
    assert world.get("/v1/allocations/ALLOCATION-9999", who="specialist").status_code == 404
