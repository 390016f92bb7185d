"""A brewery's own utilization over HTTP."""

from typing import Any

import pytest

from tests.builders import World

PATH = "/v1/breweries/FINCH/utilization-fits"
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


# 30 g give 34.6 IBU by the base model; the laboratory found 1.1 times as much, within two per cent.
BREWS = [brew(30, 38.06), brew(20, 25.8), brew(40, 49.9)]


def fit(world: World, who: str | None = "FINCH", **told: Any) -> Any:
    return world.post(PATH, {"alpha_basis": "as_analysed", "brews": BREWS, **told}, who=who)


def test_a_brewery_learns_its_own_factor_and_brews_by_it(world: World) -> None:
    world.brewery()
    answer = fit(world, note="First year")

    assert answer.status_code == 201
    assert answer.json["brews"][0] == {
        "brewed_on": "2026-05-02",
        "measured_bu": 38.06,
        "boil_ibu": pytest.approx(34.6, abs=0.01),
        "whirlpool_ibu": 0.0,
        "told": {
            "wort": {**WORT, "volume_of": "finished_beer"},
            "additions": [{"alpha_percent": 10, "form": "pellet", "mass_g": 30, "at": "boil", "minutes": 60}],
        },
    }
    assert {name: value for name, value in answer.json.items() if name != "brews"} == {
        "code": "U1",
        "brewery_code": "FINCH",
        "base_model": "tinseth",
        "alpha_basis": "as_analysed",
        "factor": pytest.approx(1.1, abs=0.03),
        "whirlpool_factor": answer.json["factor"],
        "has_own_whirlpool_factor": False,
        "left_out_error_fraction": pytest.approx(0.02, abs=0.02),
        "note": "First year",
        "made_at": answer.json["made_at"],
        "made_by": "brewery:FINCH",
    }
    assert world.get(PATH, who="FINCH").json == {"items": [answer.json], "next": None}
    asked = {
        "method": "brewhouse",
        "alpha_basis": "as_analysed",
        "wort": WORT,
        "additions": BREWS[0]["additions"],
    }
    found = world.post("/v1/bitterness", asked, who="FINCH").json
    assert found["ibu"]["estimate"] == pytest.approx(answer.json["factor"] * 34.6, abs=0.02)
    assert found["utilization_fit"] == "U1"
    named = {**asked, "brewery_code": "FINCH", "utilization_fit": "U1"}
    assert world.post("/v1/bitterness", named, who="specialist").json["ibu"] == found["ibu"]


def test_a_fit_is_refused_with_the_other_alpha(world: World) -> None:
    world.brewery()
    fit(world)
    asked = {"method": "brewhouse", "wort": WORT, "additions": BREWS[0]["additions"]}

    for named in ({}, {"utilization_fit": "U1"}):
        answer = world.post("/v1/bitterness", {**asked, **named}, who="FINCH")

        assert answer.status_code == 422
        assert (answer.json["type"], answer.json["reason"]) == ("/problems/unfit-brews", "alpha-basis")


def test_a_brewery_without_a_fit_is_told_so(world: World) -> None:
    world.brewery()
    asked = {"method": "brewhouse", "wort": WORT, "additions": BREWS[0]["additions"]}

    answer = world.post("/v1/bitterness", asked, who="FINCH")

    assert (answer.status_code, answer.json["reason"]) == (422, "no-fit")


@pytest.mark.parametrize(
    ("brews", "reason"),
    [
        (BREWS[:2], "few"),
        ([brew(30, 33), brew(40, 12), brew(20, 60)], "contradictory"),
        ([brew(1, 33), brew(2, 66), brew(3, 99)], "implausible"),
    ],
)
def test_brews_that_do_not_give_a_utilization_are_refused(
    world: World, brews: list[dict[str, Any]], reason: str
) -> None:
    world.brewery()

    answer = fit(world, brews=brews)

    assert answer.status_code == 422
    assert (answer.json["type"], answer.json["reason"]) == ("/problems/unfit-brews", reason)
    assert world.get(PATH, who="FINCH").json["items"] == []


def test_only_the_brewery_and_the_specialist_see_and_make_fits(world: World) -> None:
    world.brewery()
    world.brewery("WREN")
    world.grower()

    assert fit(world, who=None).status_code == 401
    assert world.get(PATH).status_code == 401
    for who in ("WREN", "ALDER"):
        assert fit(world, who=who).status_code == 403
        assert world.get(PATH, who=who).status_code == 403
    assert fit(world, who="specialist").status_code == 201
    assert world.get("/v1/breweries/NOBODY/utilization-fits", who="specialist").status_code == 404


def test_another_partys_utilization_is_not_used(world: World) -> None:
    world.brewery()
    world.brewery("WREN")
    world.grower()
    fit(world)
    asked = {
        "method": "brewhouse",
        "alpha_basis": "as_analysed",
        "wort": WORT,
        "additions": BREWS[0]["additions"],
    }
    named = {**asked, "brewery_code": "FINCH"}

    assert world.post("/v1/bitterness", asked).status_code == 401
    assert world.post("/v1/bitterness", named, who="WREN").status_code == 403
    assert world.post("/v1/bitterness", asked, who="ALDER").status_code == 403
    answer = world.post("/v1/bitterness", asked, who="specialist")
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "#/brewery_code")
    assert world.post("/v1/bitterness", named, who="specialist").status_code == 200


def test_a_brew_told_wrongly_is_named_by_its_place(world: World) -> None:
    world.brewery()
    lacking = {"alpha_percent": 10, "mass_g": 30, "at": "boil"}

    answer = fit(world, brews=[*BREWS, brew(30, 33, additions=[lacking])])

    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "#/brews/3/additions/0/minutes"


def test_fits_are_numbered_within_the_brewery(world: World) -> None:
    world.brewery()
    world.brewery("WREN")
    fit(world)

    second = fit(world, base_model="kinetic")
    other = world.post(
        "/v1/breweries/WREN/utilization-fits",
        {"alpha_basis": "as_analysed", "brews": BREWS},
        who="WREN",
    )

    assert (second.status_code, second.json["code"], second.json["base_model"]) == (201, "U2", "kinetic")
    assert other.json["code"] == "U1"
