"""BeerJSON over HTTP: recipes reckoned, hops bound to lots, a lot fetched as a hop entry."""

import copy
from typing import Any

import pytest

from service.api.brewing.beerjson_schemas import DocumentBody
from tests.builders import World

HOPS = "#/beerjson/recipes/0/ingredients/hop_additions"


def percent(value: float) -> dict[str, Any]:
    return {"unit": "%", "value": value}


def hop(name: str, alpha: float, grams: float, timing: dict[str, Any], **told: Any) -> dict[str, Any]:
    return {
        "name": name,
        "alpha_acid": percent(alpha),
        "amount": {"unit": "g", "value": grams},
        "timing": timing,
        **told,
    }


def minutes(value: int) -> dict[str, Any]:
    return {"unit": "min", "value": value}


BOIL = {"use": "add_to_boil", "duration": minutes(60)}
DRY = {"use": "add_to_fermentation", "duration": {"unit": "day", "value": 3}}


def document(*hops: dict[str, Any], **recipe: Any) -> dict[str, Any]:
    """A recipe of an invented pale ale, with members that have nothing to do with hops."""
    return {
        "beerjson": {
            "version": 2.06,
            "fermentables": [{"name": "Pale malt", "yield": {"potential": {"unit": "sg", "value": 1.037}}}],
            "recipes": [
                {
                    "name": "Valley Ale",
                    "type": "all grain",
                    "author": "A brewer",
                    "efficiency": {"brewhouse": percent(72)},
                    "batch_size": {"unit": "l", "value": 20},
                    "original_gravity": {"unit": "sg", "value": 1.050},
                    "ingredients": {
                        "fermentable_additions": [{"name": "Pale malt"}],
                        "hop_additions": list(hops) or [hop("Nugget", 10.0, 30.0, BOIL, form="pellet")],
                    },
                    **recipe,
                }
            ],
        }
    }


def changed(path: list[Any], value: Any) -> dict[str, Any]:
    """The document with one member of its first hop changed; None takes it away."""
    made = copy.deepcopy(document())
    place = made["beerjson"]["recipes"][0]["ingredients"]["hop_additions"][0]
    for step in path[:-1]:
        place = place[step]
    if value is None:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return made


def test_a_plain_document_is_reckoned_as_it_is(world: World) -> None:
    # 30 g of 10 % alpha, 20 L, 60 minutes at 1.050: 34.60 by the Tinseth equation, derived.
    answer = world.post("/v1/bitterness/beerjson", document())

    assert answer.status_code == 200
    assert answer.json["recipe"] == "Valley Ale"
    assert answer.json["ibu_estimate"] == {
        "method": "Tinseth",
        "value": {"unit": "IBUs", "value": pytest.approx(34.60, abs=0.01)},
    }
    found = answer.json["bitterness"]
    assert found["volume_of"] == "cold_wort"
    assert found["inputs_not_used"] == []
    sent = {
        name: found["additions"][0][name] for name in ("alpha_percent", "form", "mass_g", "at", "minutes")
    }
    assert sent == {"alpha_percent": 10.0, "form": "pellet", "mass_g": 30.0, "at": "boil", "minutes": 60.0}


def test_the_published_worked_example_in_customary_units(world: World) -> None:
    # J. Palmer, How to Brew, ch. 5: 1.5 oz of 6.4 % for 60 minutes and 1 oz of 4.6 % for 15, 5 US gal at 1.080: 31.
    def ounces(value: float) -> dict[str, Any]:
        return {"amount": {"unit": "oz", "value": value}}

    first = hop("Bittering", 6.4, 0, BOIL, **ounces(1.5))
    late = hop("Aroma", 4.6, 0, {**BOIL, "duration": minutes(15)}, **ounces(1.0))
    made = document(
        first,
        late,
        batch_size={"unit": "gal", "value": 5},
        original_gravity={"unit": "sg", "value": 1.080},
    )

    found = world.post("/v1/bitterness/beerjson", made).json

    assert found["ibu_estimate"]["value"]["value"] == pytest.approx(31, abs=0.5)
    assert found["bitterness"]["additions"][0]["mass_g"] == pytest.approx(42.524, abs=0.001)


def test_a_hop_bound_to_a_lot_takes_the_lots_alpha(world: World) -> None:
    world.grower()
    lot = world.listed()
    asked = {**document(), "lots": [{"addition": 0, "lot_code": lot}], "alpha_basis": "as_analysed"}

    found = world.post("/v1/bitterness/beerjson", asked).json["bitterness"]

    assert (found["additions"][0]["lot_code"], found["additions"][0]["alpha_percent_used"]) == (lot, 5.4)
    assert found["inputs_not_used"] == ["hop_additions/0/alpha_acid"]


def test_every_use_of_the_standard_is_placed(world: World) -> None:
    stand = {"use": "add_to_boil", "step": 2, "duration": minutes(20)}
    made = document(
        hop("Nugget", 10.0, 30.0, {"use": "add_to_mash"}),
        hop("Nugget", 10.0, 30.0, {"use": "add_to_boil", "time": minutes(45)}),
        hop("Nugget", 10.0, 30.0, stand),
        hop("Nugget", 10.0, 30.0, {"use": "add_to_boil", "step": 2}),
        hop("Nugget", 10.0, 30.0, DRY),
        hop("Nugget", 10.0, 30.0, {"use": "add_to_package"}),
        hop("Nugget", 10.0, 30.0, {**BOIL, "step": 1}, form="leaf"),
        boil={
            "boil_time": minutes(60),
            "boil_steps": [
                {"name": "boil", "start_temperature": {"unit": "C", "value": 100}},
                {
                    "name": "stand",
                    "start_temperature": {"unit": "F", "value": 194},
                    "end_temperature": {"unit": "C", "value": 80},
                    "step_time": minutes(30),
                },
            ],
        },
    )

    found = world.post("/v1/bitterness/beerjson", made).json

    placed = [(a["at"], a.get("minutes"), a.get("temperature_c")) for a in found["bitterness"]["additions"]]
    assert placed == [
        ("mash", None, None),
        ("boil", 15.0, None),
        ("whirlpool", 20.0, pytest.approx(85.0)),
        ("whirlpool", 30.0, pytest.approx(85.0)),
        ("dry_hop", 4320.0, None),
        ("dry_hop", None, None),
        ("boil", 60.0, None),
    ]
    assert found["bitterness"]["additions"][6]["form"] == "whole_cone"
    assert found["ibu_estimate"]["method"] == "Other"


def test_the_kinetic_method_takes_the_kettle_of_the_recipe(world: World) -> None:
    made = document(boil={"boil_time": {"unit": "hr", "value": 1}})

    low = world.post("/v1/bitterness/beerjson", {**made, "method": "kinetic"}).json
    high = world.post("/v1/bitterness/beerjson", {**made, "method": "kinetic", "elevation_m": 2000}).json

    assert high["ibu_estimate"]["value"]["value"] < low["ibu_estimate"]["value"]["value"]
    assert low["ibu_estimate"]["method"] == "Other"


def test_plato_is_read_as_a_scale_of_gravity(world: World) -> None:
    by_plato = document(original_gravity={"unit": "plato", "value": 12.38})

    found = world.post("/v1/bitterness/beerjson", by_plato).json

    assert found["ibu_estimate"]["value"]["value"] == pytest.approx(34.60, abs=0.05)


def test_dry_hops_alone_give_no_estimate(world: World) -> None:
    assert (
        world.post("/v1/bitterness/beerjson", document(hop("Nugget", 10, 30, DRY))).json["ibu_estimate"]
        is None
    )


def test_percent_lost_is_never_taken_for_the_storage_index(world: World) -> None:
    made = document()
    variety = {"name": "Nugget", "alpha_acid": percent(10), "percent_lost": percent(25)}
    made["beerjson"]["hop_varieties"] = [variety]
    plain = world.post("/v1/bitterness/beerjson", document()).json["bitterness"]

    found = world.post("/v1/bitterness/beerjson", made).json["bitterness"]

    assert found["ibu"] == plain["ibu"]
    assert found["inputs_not_used"] == ["hop_varieties/0/percent_lost"]
    assert any("not the Hop Storage Index" in caution for caution in found["cautions"])
    assert not any("looks like" in caution for caution in found["cautions"])
    variety["percent_lost"] = percent(0.3)
    suspicious = world.post("/v1/bitterness/beerjson", made).json["bitterness"]
    assert any("looks like a Hop Storage Index" in caution for caution in suspicious["cautions"])


@pytest.mark.parametrize(
    ("path", "value", "pointer"),
    [
        (["amount", "unit"], "ml", "/amount/unit"),
        (["amount", "unit"], "stone", "/amount/unit"),
        (["amount", "value"], 0, "/amount"),
        (["amount", "value"], 1e9, "/amount/value"),
        (["alpha_acid"], None, "/alpha_acid"),
        (["alpha_acid", "value"], "10", "/alpha_acid"),
        (["alpha_acid", "value"], 120, "/alpha_acid"),
        (["form"], "extract", "/form"),
        (["hsi"], 25, "/hsi"),
        (["timing", "use"], None, "/timing/use"),
        (["timing", "use"], "add_to_glass", "/timing/use"),
        (["timing", "duration"], None, "/timing/duration"),
        (["timing", "duration", "value"], 60.5, "/timing/duration"),
        (["timing", "continuous"], True, "/timing/continuous"),
        (["timing", "step"], 1, "/timing/step"),
        (["timing", "duration", "value"], 300, "/minutes"),
    ],
)
def test_a_hop_that_cannot_be_reckoned_is_refused_where_it_is_wrong(
    world: World, path: list[Any], value: Any, pointer: str
) -> None:
    answer = world.post("/v1/bitterness/beerjson", changed(path, value))

    assert answer.status_code == 422
    found = answer.json["errors"][0]["pointer"] if "errors" in answer.json else answer.json["pointer"]
    assert found == f"{HOPS}/0{pointer}"


def test_hops_that_go_in_after_the_boil_are_refused(world: World) -> None:
    late = hop("Nugget", 10.0, 30.0, {"use": "add_to_boil", "time": minutes(90)})

    answer = world.post("/v1/bitterness/beerjson", document(late, boil={"boil_time": minutes(60)}))

    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, f"{HOPS}/0/timing/time")


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"recipe": 1}, "#/recipe"),
        ({"lots": [{"addition": 1, "lot_code": "ALDER-2026-01"}]}, "#/lots"),
        (
            {"lots": [{"addition": 0, "lot_code": "A-1"}, {"addition": 0, "lot_code": "A-2"}]},
            "#/lots",
        ),
        ({"beerjson": {"version": 2.06, "recipes": []}}, "#/recipe"),
        ({"beerjson": {"recipes": []}}, "#/beerjson/version"),
        ({"wort": {}}, "#/wort"),
    ],
)
def test_what_stands_beside_the_document_is_held_to_it(
    world: World, told: dict[str, Any], pointer: str
) -> None:
    answer = world.post("/v1/bitterness/beerjson", {**document(), **told})

    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, pointer)


@pytest.mark.parametrize(
    ("recipe", "pointer"),
    [
        ({"original_gravity": {"unit": "sg", "value": 1.2}}, "/original_gravity/value"),
        ({"original_gravity": {"unit": "brix", "value": 60}}, "/original_gravity/value"),
        ({"batch_size": {"unit": "ml", "value": 5}}, "/batch_size/value"),
        ({"ingredients": {"fermentable_additions": []}}, "/ingredients"),
    ],
)
def test_a_recipe_that_cannot_be_reckoned_is_refused_where_it_is_wrong(
    world: World, recipe: dict[str, Any], pointer: str
) -> None:
    answer = world.post("/v1/bitterness/beerjson", document(**recipe))

    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == f"#/beerjson/recipes/0{pointer}"


def test_a_recipe_without_gravity_is_refused(world: World) -> None:
    made = document()
    del made["beerjson"]["recipes"][0]["original_gravity"]

    answer = world.post("/v1/bitterness/beerjson", made)

    assert answer.json["errors"][0]["pointer"] == "#/beerjson/recipes/0/original_gravity"


def test_a_lot_that_must_not_be_known_is_not_found(world: World) -> None:
    world.grower()
    draft = world.draft()

    answer = world.post(
        "/v1/bitterness/beerjson", {**document(), "lots": [{"addition": 0, "lot_code": draft}]}
    )

    assert answer.status_code == 404


def test_a_lot_is_fetched_as_a_hop_entry(world: World) -> None:
    world.grower()
    code = world.listed(
        cultivar="Cascade",
        report={
            "alpha_percent": 6.3,
            "beta_percent": 5.6,
            "oil_ml_per_100g": 1.24,
            "cohumulone_percent_of_alpha": 36.0,
            "oil_shares_percent": {"myrcene": 48.0, "humulene": 10.0, "unnamed_peak": 3.0},
            "oil_shares_basis": "peak_area",
        },
    )

    answer = world.get(f"/v1/lots/{code}/beerjson")

    assert answer.status_code == 200
    assert answer.json == {
        "beerjson": {
            "version": 2.06,
            "hop_varieties": [
                {
                    "name": "Cascade",
                    "producer": world.get("/v1/growers/ALDER").json["name"],
                    "product_id": code,
                    "origin": "CA",
                    "form": "leaf",
                    "type": world.get(f"/v1/lots/{code}").json["role"],
                    "alpha_acid": percent(6.3),
                    "notes": (
                        "Alpha as analysed by Quarry Lane Laboratory (ASBC Hops-14, HPLC), report R1, sampled on "
                        "2026-09-03 by the grower; it falls in store. Hop Storage Index (A275/A325) 0.27; "
                        "percent_lost is another quantity. Moisture 9.1 %. Parts of the oil by share of peak area. "
                        "Cohumulone is a share of alpha. Not a certificate of analysis."
                    ),
                    "inventory": {"amount": {"unit": "kg", "value": 120.5}},
                    "year": "2026",
                    "beta_acid": percent(5.6),
                    # USDA-ARS accession 21092: 40 % of the alpha retained after six months; never the index 0.27.
                    "percent_lost": percent(60.0),
                    "oil_content": {
                        "humulene": percent(10.0),
                        "myrcene": percent(48.0),
                        "total_oil_ml_per_100g": 1.24,
                        "cohumulone": percent(36.0),
                    },
                }
            ],
        }
    }
    assert DocumentBody().validate(answer.json["beerjson"]) == {}


def test_an_entry_of_an_unknown_cultivar_claims_no_six_month_loss(world: World) -> None:
    world.grower()
    code = world.listed(cultivar="Grandmother's Vine", role="dual", form="pellet_enriched")

    entry = world.get(f"/v1/lots/{code}/beerjson").json["beerjson"]["hop_varieties"][0]

    assert "percent_lost" not in entry
    assert (entry["form"], entry["type"]) == ("pellet", "aroma/bittering")
    assert "type 45" in entry["notes"]


def test_an_entry_needs_an_alpha_and_a_lot_that_may_be_known(world: World) -> None:
    world.grower()
    code = world.draft()

    hidden = world.get(f"/v1/lots/{code}/beerjson")
    unmeasured = world.get(f"/v1/lots/{code}/beerjson", who="ALDER")

    assert hidden.status_code == 404
    assert (unmeasured.status_code, unmeasured.json["type"]) == (422, "/problems/figure-missing")
