"""A brewery's measured brews and its own utilization, over HTTP."""

from typing import Any

import pytest

from tests.builders import World

PATH = "/v1/breweries/FINCH/brews"
FIT = "/v1/breweries/FINCH/utilization"
WORT = {"volume_l": 20.0, "gravity_sg": 1.050}


def brew(mass_g: float, measured_bu: float, **told: Any) -> dict[str, Any]:
    addition = {"alpha_percent": 10, "form": "pellet", "mass_g": mass_g, "at": "boil", "minutes": 60}
    return {
        "brewed_on": "2026-05-02",
        "measured_bu": measured_bu,
        "wort": WORT,
        "additions": [addition],
        **told,
    }


# 30 g give 34.6 IBU by the base method; the laboratory found 1.1 times as much, within two per cent.
BREWS = [brew(30, 38.06), brew(20, 25.8), brew(40, 49.9)]
ASKED = {"wort": WORT, "additions": BREWS[0]["additions"]}


def filed(world: World, *brews: dict[str, Any], who: str | None = "FINCH") -> list[Any]:
    return [world.post(PATH, one, who=who) for one in brews or BREWS]


def test_a_brew_is_kept_listed_and_taken_back(world: World) -> None:
    world.brewery()
    first, second = filed(world, {**BREWS[0], "note": "First year"}, BREWS[1])

    assert first.status_code == 201
    assert first.json == {
        "code": "FINCH-BREW-01",
        "brewery_code": "FINCH",
        "brewed_on": "2026-05-02",
        "measured_bu": 38.06,
        "told": {"wort": {**WORT, "volume_of": "finished_beer"}, "additions": BREWS[0]["additions"]},
        "hops": [{"form": "pellet", "estimated": 10.0, "as_analysed": 10.0}],
        "note": "First year",
        "filed_at": first.json["filed_at"],
        "filed_by": "brewery:FINCH",
    }
    page = world.get(f"{PATH}?limit=1", who="FINCH").json
    assert page["items"] == [second.json]
    assert world.get(f"{PATH}?limit=1&cursor={page['next']}", who="FINCH").json == {
        "items": [first.json],
        "next": None,
    }
    assert world.delete(f"{PATH}/FINCH-BREW-02", who="FINCH").status_code == 204
    assert world.get(PATH, who="FINCH").json["items"] == [first.json]
    assert world.delete(f"{PATH}/FINCH-BREW-02", who="FINCH").status_code == 404


def test_the_utilization_follows_and_is_brewed_by(world: World) -> None:
    world.brewery()
    filed(world)

    fit = world.get(f"{FIT}?alpha_basis=as_analysed", who="FINCH")

    assert fit.status_code == 200
    found = dict(fit.json)
    brews = found.pop("brews")
    assert found == {
        "brewery_code": "FINCH",
        "base_model": "tinseth",
        "alpha_basis": "as_analysed",
        "factor": pytest.approx(1.1, abs=0.02),
        "whirlpool_factor": fit.json["factor"],
        "has_own_whirlpool_factor": False,
        "left_out_error_log": pytest.approx(0.02, abs=0.02),
    }
    assert brews[-1] == {
        "code": "FINCH-BREW-01",
        "brewed_on": "2026-05-02",
        "measured_bu": 38.06,
        "boil_ibu": pytest.approx(34.6, abs=0.01),
        "whirlpool_ibu": 0.0,
        "predicted_ibu": pytest.approx(34.6 * fit.json["factor"], abs=0.02),
    }
    found = world.post("/v1/bitterness", {**ASKED, "method": "brewhouse"}, who="FINCH").json
    assert found["ibu"]["estimate"] == pytest.approx(fit.json["factor"] * 34.6, abs=0.02)
    assert found["own_utilization"] == {
        "brews": 3,
        "is_used": True,
        "see": FIT,
        "words": "Reckoned with the utilization that follows from 3 measured brews.",
    }
    named = {**ASKED, "method": "brewhouse", "brewery_code": "FINCH"}
    assert world.post("/v1/bitterness", named, who="specialist").json["ibu"] == found["ibu"]
    on_rates = world.post(
        "/v1/bitterness", {**ASKED, "method": "brewhouse", "base_model": "kinetic"}, who="FINCH"
    )
    assert on_rates.json["ibu"]["estimate"] == pytest.approx(found["ibu"]["estimate"], rel=0.01)


def test_a_known_utilization_leaves_little_more_than_alpha(world: World) -> None:
    world.brewery()
    filed(world, *(brew(30, bu) for bu in (38.0, 38.3, 37.8, 38.1, 38.2)))

    plain = world.post("/v1/bitterness", ASKED, who="FINCH").json
    own = world.post("/v1/bitterness", {**ASKED, "method": "brewhouse"}, who="FINCH").json

    ratios = [found["high"] / found["low"] for found in (plain["ibu"], own["ibu"], plain["alpha_alone_ibu"])]
    assert ratios[2] < ratios[1] < 1.05 * ratios[2] < ratios[0]


def test_answers_point_a_brewery_to_its_brews_and_nobody_else(world: World) -> None:
    world.brewery()
    world.grower()

    before = world.post("/v1/bitterness", ASKED, who="FINCH").json["own_utilization"]
    filed(world)
    after = world.post("/v1/bitterness", ASKED, who="FINCH").json["own_utilization"]
    dosed = {"wort": WORT, "dose": {**BREWS[0]["additions"][0]}, "wanted_ibu": 30}
    del dosed["dose"]["mass_g"]

    assert (before["brews"], before["is_used"], before["see"]) == (0, False, PATH)
    assert "from 3 on method brewhouse reckons with them" in before["words"]
    assert after["brews"] == 3
    assert (
        world.post("/v1/bitterness/dose", dosed, who="FINCH").json["bitterness"]["own_utilization"] == after
    )
    for who in (None, "ALDER"):
        assert world.post("/v1/bitterness", ASKED, who=who).json["own_utilization"] is None


def test_a_brewery_with_too_few_brews_is_told_so(world: World) -> None:
    world.brewery()
    filed(world, *BREWS[:2])

    for answer in (
        world.get(FIT, who="FINCH"),
        world.post("/v1/bitterness", {**ASKED, "method": "brewhouse"}, who="FINCH"),
    ):
        assert (answer.status_code, answer.json["reason"]) == (422, "few")


@pytest.mark.parametrize(
    ("brews", "reason"),
    [
        ([brew(30, 33), brew(40, 12), brew(20, 60)], "contradictory"),
        ([brew(1, 33), brew(2, 66), brew(3, 99)], "implausible"),
    ],
)
def test_brews_that_do_not_give_a_utilization_are_refused(
    world: World, brews: list[dict[str, Any]], reason: str
) -> None:
    world.brewery()
    assert [answer.status_code for answer in filed(world, *brews)] == [201, 201, 201]

    answer = world.get(FIT, who="FINCH")

    assert (answer.status_code, answer.json["type"]) == (422, "/problems/unfit-brews")
    assert answer.json["reason"] == reason


def test_only_the_brewery_and_the_specialist_see_and_keep_brews(world: World) -> None:
    world.brewery()
    world.brewery("WREN")
    world.grower()
    filed(world, BREWS[0])

    assert world.post(PATH, BREWS[0]).status_code == 401
    assert world.get(PATH).status_code == world.get(FIT).status_code == 401
    for who in ("WREN", "ALDER"):
        assert world.post(PATH, BREWS[0], who=who).status_code == 403
        assert world.get(PATH, who=who).status_code == world.get(FIT, who=who).status_code == 403
        assert world.delete(f"{PATH}/FINCH-BREW-01", who=who).status_code == 403
    assert world.post(PATH, BREWS[0], who="specialist").json["filed_by"] == "specialist"
    assert world.get("/v1/breweries/NOBODY/brews", who="specialist").status_code == 404


def test_another_partys_utilization_is_not_used(world: World) -> None:
    world.brewery()
    world.brewery("WREN")
    world.grower()
    filed(world)
    asked = {**ASKED, "method": "brewhouse"}
    named = {**asked, "brewery_code": "FINCH"}

    assert world.post("/v1/bitterness", asked).status_code == 401
    assert world.post("/v1/bitterness", named, who="WREN").status_code == 403
    assert world.post("/v1/bitterness", asked, who="ALDER").status_code == 403
    answer = world.post("/v1/bitterness", asked, who="specialist")
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "#/brewery_code")
    assert world.post("/v1/bitterness", named, who="specialist").status_code == 200


@pytest.mark.parametrize("name", ["base_model", "brewery_code"])
def test_what_belongs_to_brewhouse_goes_with_it_alone(world: World, name: str) -> None:
    world.brewery()
    told = {"base_model": "tinseth", "brewery_code": "FINCH"}[name]

    answer = world.post("/v1/bitterness", {**ASKED, name: told}, who="FINCH")

    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, f"#/{name}")


def test_what_a_brew_lacks_is_named_by_its_place(world: World) -> None:
    world.brewery()
    lacking = {"alpha_percent": 10, "mass_g": 30, "at": "boil"}

    answer = world.post(PATH, brew(30, 33, additions=[lacking]), who="FINCH")

    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "#/additions/0/minutes"


def test_the_same_brew_sent_again_is_kept_once(world: World) -> None:
    world.brewery()
    key = {"Idempotency-Key": "brew-17"}

    first, second = (world.post(PATH, BREWS[0], who="FINCH", headers=key) for _ in range(2))

    assert first.json == second.json
    assert len(world.get(PATH, who="FINCH").json["items"]) == 1
