"""Physical quality over HTTP: filed, shown on the lot, corrected, carried by parts; the region's classes of cones."""

from typing import Any

import pytest

from tests.builders import World

REPORT: dict[str, Any] = {
    "measured_by": "Quarry Lane Laboratory",
    "drawn_by": "official",
    "sampled_on": "2026-09-03",
    "seed_percent": 2.0,
    "leaf_and_stem_percent": 0.8,
    "waste_percent": 0.5,
    "cone_sort": {"masses_g": {"ripe": 24.0, "over_ripe": 6.0}, "cones_counted": 250},
}


@pytest.fixture
def yard(world: World) -> World:
    world.grower("ALDER")
    world.grower("ROWAN")
    return world


def filed(world: World, code: str, who: str = "ALDER", **told: Any) -> Any:
    return world.post(f"/v1/lots/{code}/quality-reports", {**REPORT, **told}, who=who)


def test_a_lot_shows_each_figure_with_who_measured_it_and_the_word_of_the_act(yard: World) -> None:
    code = yard.listed(origin_country="DE")

    made = filed(yard, code)
    shown = yard.get(f"/v1/lots/{code}").json["physical_quality"]

    assert (made.status_code, made.json["code"]) == (201, "Q1")
    assert shown["seed_percent"] == {
        "value": 2.0,
        "report": "Q1",
        "measured_by": "Quarry Lane Laboratory",
        "drawn_by": "official",
        "sampled_on": "2026-09-03",
    }
    assert (shown["seed_word"]["word"], shown["seed_word"]["rule"]) == ("seedless", "2024/602")
    sort = shown["cone_sort"]
    assert [share["code"] for share in sort["shares"]] == ["ripe", "over_ripe"]
    ripe = sort["shares"][0]["share_percent"]
    assert ripe["low"] < ripe["estimate"] == 80.0 < ripe["high"]
    assert (sort["cones"], sort["cones_were_counted"], sort["effective_cones"]) == (250, True, 200)
    assert "Wilson" in sort["method"]


def test_without_a_wording_that_was_read_the_percentage_stands_alone(yard: World) -> None:
    code = yard.listed()
    filed(yard, code)

    shown = yard.get(f"/v1/lots/{code}").json["physical_quality"]

    assert (shown["seed_percent"]["value"], shown["seed_word"]) == (2.0, None)


def test_a_correction_names_its_reason_and_reaches_the_parts(yard: World) -> None:
    code = yard.listed()
    filed(yard, code)
    part = yard.post(f"/v1/lots/{code}/parts", {"mass_kg": 20, "done_on": "2026-11-20"}, who="ALDER")
    split = part.json["code"]

    silent = filed(yard, code, corrects="Q1", seed_percent=0.2)
    corrected = filed(yard, code, corrects="Q1", reason="exchanged samples", seed_percent=0.2)
    twice = filed(yard, code, corrects="Q1", reason="again")

    assert (silent.status_code, silent.json["errors"][0]["pointer"]) == (422, "#/reason")
    assert (corrected.status_code, twice.status_code) == (201, 409)
    assert filed(yard, code, corrects="Q9", reason="?").status_code == 404
    for lot in (code, split):
        shown = yard.get(f"/v1/lots/{lot}", who="ALDER").json["physical_quality"]
        assert shown["seed_percent"]["value"] == 0.2
        marked = yard.get(f"/v1/lots/{lot}/quality-reports", who="ALDER").json["items"]
        assert [report["corrected_by"] for report in marked] == ["Q2", None]
    assert marked[1]["carried_from"] == f"{code}/Q2"


def test_only_the_lots_grower_files_and_all_who_see_the_lot_read(yard: World) -> None:
    draft, listed = yard.draft(), yard.listed()

    assert filed(yard, listed, "ROWAN").status_code == 403
    assert yard.post(f"/v1/lots/{listed}/quality-reports", REPORT).status_code == 401
    assert filed(yard, listed, "specialist").json["filed_by"] == "specialist"
    assert yard.get(f"/v1/lots/{listed}/quality-reports").status_code == 200
    assert yard.get(f"/v1/lots/{draft}/quality-reports").status_code == 404


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"seed_percent": 101}, "#/seed_percent"),
        ({"cone_sort": {"masses_g": {"green": 3}}}, "#/cone_sort/masses_g/green"),
        ({"cone_sort": {"masses_g": {}}}, "#/cone_sort/masses_g"),
        ({"sampled_on": "2026-08-01"}, "#/sampled_on"),
        ({"seeds_g": 3, "sample_g": 250}, "#/seed_percent"),
        ({"drawn_by": "buyer"}, "#/drawn_by"),
        ({"stones_percent": 1}, "#/stones_percent"),
    ],
    ids=str,
)
def test_what_cannot_be_is_named_by_its_pointer(yard: World, told: dict[str, Any], pointer: str) -> None:
    refused = filed(yard, yard.draft(), **told)

    assert refused.status_code == 422
    assert [fault["pointer"] for fault in refused.json["errors"]] == [pointer]


def test_a_report_that_measured_nothing_is_refused(yard: World) -> None:
    silent = {name: REPORT[name] for name in ("measured_by", "drawn_by", "sampled_on")}

    refused = yard.post(f"/v1/lots/{yard.draft()}/quality-reports", silent, who="ALDER")

    assert refused.status_code == 422
    assert filed(yard, yard.draft(), seed_percent=80, waste_percent=30).json["type"] == (
        "/problems/impossible-report"
    )


def test_the_specialist_sets_the_classes_and_earlier_reports_keep_theirs(yard: World) -> None:
    code = yard.listed()
    filed(yard, code)
    classes = {
        "classes": [{"code": "green", "name": "green"}, {"code": "brown", "name": "brown", "words": "dry"}]
    }

    assert len(yard.get("/v1/cone-classes").json["items"]) == 5
    assert yard.post("/v1/cone-classes", classes, who="ALDER").status_code == 403
    assert yard.post("/v1/cone-classes", classes).status_code == 401
    assert yard.post("/v1/cone-classes", classes, who="specialist").status_code == 201
    twice = {"classes": [classes["classes"][0]] * 2}
    assert yard.post("/v1/cone-classes", twice, who="specialist").status_code == 422

    assert [one["code"] for one in yard.get("/v1/cone-classes").json["items"]] == ["green", "brown"]
    assert filed(yard, code).status_code == 422
    assert filed(yard, code, cone_sort={"masses_g": {"green": 3}}, sampled_on="2026-09-01").status_code == 201
    shown = yard.get(f"/v1/lots/{code}").json["physical_quality"]["cone_sort"]
    assert [share["name"] for share in shown["shares"]] == ["ripe", "over-ripe"]
