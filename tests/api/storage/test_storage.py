"""What storage leaves, over HTTP: the day, the plan, the words that come with an estimate."""

from typing import Any

import pytest

from tests.builders import World


def left(world: World, code: str, **query: Any) -> dict[str, Any]:
    """The answer of the storage call."""
    answer = world.get(f"/v1/lots/{code}/storage", **query)
    assert answer.status_code == 200, answer.text
    return dict(answer.json)


def test_an_answer_names_method_inputs_sources_and_assumptions(world: World) -> None:
    world.grower("ALDER")
    code = world.listed(cultivar="Cascade")

    answer = left(world, code, on="2027-03-01")

    alpha = answer["alpha_percent"]
    assert alpha["low"] < alpha["estimate"] < alpha["high"]
    assert (alpha["confidence"], answer["report"], answer["on"]) == (0.9, "R1", "2027-03-01")
    assert answer["inputs"]["days"] == 179
    assert [row["source"] for row in answer["inputs"]["six_month_rows"]]
    assert any("common practice, no source" in words for words in answer["assumptions"])
    assert any("assumption, no source" in words for words in answer["assumptions"])
    assert len(answer["sources"]) >= 2


def test_only_the_spells_before_the_day_are_named(world: World) -> None:
    world.grower("ALDER")
    code = world.listed()
    world.patch(f"/v1/lots/{code}", {"packing": "open", "stored_at_c": 30.0}, who="ALDER")

    before = left(world, code, on="2026-10-01")
    after = left(world, code, on="2027-01-01")

    assert [spell["packing"] for spell in before["inputs"]["spells"]] == ["barrier_vacuum"]
    assert [spell["packing"] for spell in after["inputs"]["spells"]] == ["barrier_vacuum", "open"]
    assert not any("20 °C" in words for words in before["cautions"])
    assert any("20 °C" in words for words in after["cautions"])


def test_a_plan_counts_from_its_day(world: World) -> None:
    world.grower("ALDER")
    code = world.listed()
    as_stored = left(world, code, on="2027-06-01")["alpha_percent"]["estimate"]
    plan = {"on": "2027-06-01", "kept_at_c": 20, "packing": "open"}

    late = left(world, code, **plan, **{"from": "2027-05-01"})["alpha_percent"]["estimate"]
    early = left(world, code, **plan)["alpha_percent"]["estimate"]
    nothing = left(world, code, **plan, **{"from": "2027-06-01"})["alpha_percent"]["estimate"]

    assert early < late < as_stored
    # The packing stays as it is where the plan names none.
    warm = {"on": "2027-06-01", "kept_at_c": 20}
    vacuum = left(world, code, **warm, packing="barrier_vacuum")["alpha_percent"]["estimate"]
    assert left(world, code, **warm)["alpha_percent"]["estimate"] == vacuum > early
    assert nothing == pytest.approx(as_stored)


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        ({"on": "2026-09-02"}, "on"),
        ({"packing": "open"}, "kept_at_c"),
        ({"from": "2027-01-01"}, "kept_at_c"),
        ({"kept_at_c": 41, "packing": "open"}, "kept_at_c"),
        ({"kept_at_c": -31, "packing": "open"}, "kept_at_c"),
        ({"kept_at_c": 4, "packing": "open", "from": "2026-08-01"}, "from"),
        ({"kept_at_c": 4, "packing": "jar"}, "packing"),
    ],
    ids=str,
)
def test_what_cannot_be_asked_is_named(world: World, query: dict[str, Any], parameter: str) -> None:
    world.grower("ALDER")
    code = world.listed()

    answer = world.get(f"/v1/lots/{code}/storage", **query)

    assert answer.status_code == 422
    assert parameter in [fault["parameter"] for fault in answer.json["errors"]]


def test_where_no_model_holds_it_says_so(world: World) -> None:
    world.grower("ALDER")
    wet = world.draft(form="wet_hop", packing=None, stored_at_c=None)
    bare = world.draft()

    for code, problem in ((wet, "no-storage-model"), (bare, "figure-missing")):
        answer = world.get(f"/v1/lots/{code}/storage", who="ALDER")
        assert (answer.status_code, answer.json["type"]) == (422, f"/problems/{problem}")


def test_the_far_future_is_answered_too(world: World) -> None:
    world.grower("ALDER")
    code = world.listed(packing="open", stored_at_c=40.0)

    answer = left(world, code, on="2200-12-31")

    assert answer["alpha_percent"]["estimate"] == pytest.approx(0, abs=1e-6)
    assert answer["hop_storage_index"]["estimate"] == pytest.approx(2.028, abs=0.01)
    assert world.get("/v1/lots", on="2200-12-31").json["items"][0]["code"] == code
