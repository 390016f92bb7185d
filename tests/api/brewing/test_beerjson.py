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
    ("path", "value", "reason"),
    [
        (["amount", "unit"], "ml", "by mass"),
        (["amount", "unit"], "stone", "by mass"),
        (["amount", "value"], 0, "A mass over 0"),
        (["amount", "value"], 1e9, "A mass over 0"),
        (["alpha_acid"], None, "No alpha acids"),
        (["alpha_acid", "value"], 0, "Without alpha acids"),
        (["form"], "extract", "hop oil"),
        (["timing"], None, "where the hops go"),
        (["timing", "use"], None, "where the hops go"),
        (["timing", "use"], "add_to_glass", "where the hops go"),
        (["timing", "duration"], None, "how long the hops boil"),
        (["timing", "continuous"], True, "without pause"),
        (["timing", "step"], 2, "holds 0 steps"),
        (["timing", "duration", "value"], 300, "longer than the method reaches"),
    ],
)
def test_a_hop_that_cannot_be_reckoned_gets_null_and_a_reason_and_stops_no_other(
    world: World, path: list[Any], value: Any, reason: str
) -> None:
    made = changed(path, value)
    made["beerjson"]["recipes"][0]["ingredients"]["hop_additions"].append(hop("Nugget", 10.0, 30.0, BOIL))

    answer = world.post("/v1/bitterness/beerjson", made)

    assert answer.status_code == 200, answer.text
    first, second = answer.json["hops"]
    assert first["ibu"] is None
    assert reason in first["reason"]
    assert second["ibu"]["estimate"] == pytest.approx(34.60, abs=0.01)
    assert answer.json["ibu_estimate"]["value"]["value"] == pytest.approx(34.60, abs=0.01)


def test_what_no_reader_knows_is_passed_over_and_named(world: World) -> None:
    made = document(
        hop(
            "Nugget",
            10.0,
            30.0,
            {**BOIL, "pH": {"unit": "pH", "value": 5.2}},
            hsi=25,
            form="cryo",
            producer="",
        ),
        boil={
            "boil_time": minutes(60),
            "boil_steps": [
                {"name": "boil", "ramp_time": minutes(5), "colour": "gold"},
                {"name": "chill", "end_temperature": {"unit": "C", "value": 20}, "step_time": minutes(25)},
            ],
        },
        mood="cheerful",
    )

    found = world.post("/v1/bitterness/beerjson", made).json

    assert found["ibu_estimate"]["value"]["value"] == pytest.approx(34.60, abs=0.01)
    assert found["bitterness"]["inputs_not_used"] == [
        "kettle/boil_minutes",
        "hop_additions/0/form",
        "hop_additions/0/hsi",
        "hop_additions/0/producer",
        "hop_additions/0/timing/pH",
        "boil_steps/0/colour",
        "boil_steps/0/ramp_time",
        "boil_steps/1",
    ]


@pytest.mark.parametrize(
    ("timing", "unused"),
    [
        ({"use": "add_to_boil", "step": 1, "time": minutes(5)}, ["time"]),
        ({"use": "add_to_boil", "step": 1, "time": minutes(5), "duration": minutes(35)}, []),
        ({"use": "add_to_boil", "step": 2, "time": minutes(5)}, []),
        ({"use": "add_to_boil", "step": 2, "time": minutes(5), "duration": minutes(35)}, ["time"]),
        ({"use": "add_to_boil", "time": minutes(5), "duration": minutes(35)}, ["time"]),
        ({"use": "add_to_fermentation", "step": 2, "time": {"unit": "day", "value": 2}}, ["step", "time"]),
        ({"use": "add_to_mash", "time": minutes(5)}, ["time"]),
    ],
)
def test_a_time_is_named_where_it_changes_nothing_and_only_there(
    world: World, timing: dict[str, Any], unused: list[str]
) -> None:
    heating = {
        "start_temperature": {"unit": "C", "value": 68},
        "end_temperature": {"unit": "C", "value": 100},
        "step_time": minutes(10),
    }
    boiling = {"start_temperature": {"unit": "C", "value": 100}, "step_time": minutes(60)}
    boil = {"boil_time": minutes(60), "boil_steps": [heating, boiling]}

    found = world.post("/v1/bitterness/beerjson", document(hop("Nugget", 10.0, 30.0, timing), boil=boil)).json

    named = [name for name in found["bitterness"]["inputs_not_used"] if "/timing/" in name]
    assert named == [f"hop_additions/0/timing/{name}" for name in unused]


def test_hops_before_the_boil_stay_in_it(world: World) -> None:
    # The structure of the standard's own sample of first wort hops, with invented names: heating 10 min, boil 60 min.
    heating = {
        "name": "heating",
        "start_temperature": {"unit": "F", "value": 154},
        "end_temperature": {"unit": "F", "value": 212},
        "step_time": minutes(10),
    }
    boiling = {"name": "boil", "start_temperature": {"unit": "F", "value": 212}, "step_time": minutes(60)}
    steps = {"boil_time": minutes(60), "boil_steps": [heating, boiling]}
    before = {"use": "add_to_boil", "step": 1, "time": minutes(5)}

    def added(timing: dict[str, Any], **boil: Any) -> dict[str, Any]:
        made = document(hop("Nugget", 10.0, 30.0, timing), boil={**steps, **boil})
        return dict(world.post("/v1/bitterness/beerjson", made).json)

    first_wort, boiled = added(before), added({**BOIL, "step": 2})
    taken_out = added({**before, "duration": minutes(5)})

    assert first_wort["bitterness"]["additions"][0]["at"] == "first_wort"
    assert first_wort["ibu_estimate"]["value"]["value"] == pytest.approx(
        boiled["ibu_estimate"]["value"]["value"], rel=0.15
    )
    assert added({**before, "duration": minutes(35)})["bitterness"]["additions"][0]["minutes"] == 30.0
    assert "taken out before" in taken_out["hops"][0]["reason"]
    assert added(before, boil_steps=[heating])["bitterness"]["additions"][0]["at"] == "first_wort"


def test_a_time_without_a_duration_is_answered_by_the_schema_with_the_other_reading_beside(
    world: World,
) -> None:
    # Documents that were converted from an older format write the minutes before the end as `time`.
    late = hop("Nugget", 10.0, 30.0, {"use": "add_to_boil", "time": minutes(45)})
    by_duration = hop("Nugget", 10.0, 30.0, {**BOIL, "duration": minutes(15)})
    boil = {"boil_time": minutes(60)}

    found = world.post("/v1/bitterness/beerjson", document(late, boil=boil)).json
    plain = world.post("/v1/bitterness/beerjson", document(by_duration, boil=boil)).json
    whole = hop("Nugget", 10.0, 30.0, {**BOIL, "duration": minutes(45)})
    other = world.post("/v1/bitterness/beerjson", document(whole, boil=boil)).json["ibu_estimate"]["value"][
        "value"
    ]

    assert found["ibu_estimate"] == plain["ibu_estimate"]
    assert any(f"the recipe gives {other:.3g} IBU" in words for words in found["bitterness"]["cautions"])
    assert not any("the recipe gives" in words for words in plain["bitterness"]["cautions"])


def test_hops_that_go_in_after_the_boil_are_null_and_the_other_reading_is_told(world: World) -> None:
    late = hop("Nugget", 10.0, 30.0, {"use": "add_to_boil", "time": minutes(90)})

    found = world.post("/v1/bitterness/beerjson", document(late, boil={"boil_time": minutes(60)})).json

    assert found["ibu_estimate"] is None
    assert "90 min after the start of a step of 60 min" in found["hops"][0]["reason"]
    assert any("before the end of the boil" in words for words in found["bitterness"]["cautions"])


SAMPLES: dict[str, dict[str, Any]] = {
    # The structures of the standard's own sample recipes (its tests/generic and tests/converted), reduced, with invented
    # names: their texts name brands and people.
    "generic": {
        "efficiency": {"mash": percent(74), "brewhouse": percent(74.1)},
        "batch_size": {"unit": "gal", "value": 5},
        "boil": {
            "name": "60 minute boil",
            "pre_boil_size": {"unit": "gal", "value": 7},
            "boil_time": minutes(60),
        },
        "ibu_estimate": {"method": "Tinseth", "value": {"unit": "IBUs", "value": 35}},
        "ingredients": {
            "fermentable_additions": [
                {
                    "name": "pale malt",
                    "type": "grain",
                    "color": {"unit": "Lovi", "value": 3},
                    "amount": {"unit": "kg", "value": 5},
                    "yield": {"fine_grind": percent(78)},
                }
            ],
            "hop_additions": [
                hop(
                    "Nugget",
                    10,
                    10,
                    {"time": {"unit": "day", "value": 2}, "use": "add_to_fermentation"},
                    type="aroma/bittering",
                    notes="",
                    inventory={"pellet": {"unit": "g", "value": 30}},
                    oil_content={"myrcene": 60, "humulene": 12},
                ),
                {
                    "name": "a distilled hop oil",
                    "form": "extract",
                    "alpha_acid": percent(0),
                    "use": "dry hop",
                    "amount": {"unit": "ml", "value": 1},
                    "timing": {"time": minutes(30), "use": "add_to_fermentation"},
                },
            ],
        },
    },
    "converted": {
        "author": "",
        "efficiency": {"brewhouse": percent(70)},
        "batch_size": {"unit": "l", "value": 19.0028767},
        "boil": {"pre_boil_size": {"unit": "l", "value": 30.37}, "boil_time": minutes(90)},
        "ingredients": {
            "fermentable_additions": [
                {
                    "name": "pilsner malt",
                    "type": "grain",
                    "producer": "",
                    "amount": {"unit": "kg", "value": 3.2412931},
                    "yield": {"potential": {"unit": "sg", "value": 1.03726}},
                },
                {
                    "name": "vienna malt",
                    "type": "grain",
                    "amount": {"unit": "kg", "value": 1.08},
                    "yield": {"potential": {"unit": "sg", "value": 1.03588}},
                },
            ],
            "hop_additions": [
                hop(
                    "Nugget", 4.8, 33.2677, {"time": minutes(60), "use": "add_to_boil"}, beta_acid=percent(4)
                ),
                hop("Nugget", 4.8, 16.6339, {"time": minutes(20), "use": "add_to_boil"}, origin="Germany"),
            ],
        },
    },
}


@pytest.mark.parametrize("sample", SAMPLES)
def test_recipes_built_as_the_standards_own_samples_are_answered(world: World, sample: str) -> None:
    made = document(**SAMPLES[sample])
    del made["beerjson"]["recipes"][0]["original_gravity"]

    answer = world.post("/v1/bitterness/beerjson", made)

    assert answer.status_code == 200, answer.text
    assert len(answer.json["hops"]) == 2
    (words,) = [w for w in answer.json["bitterness"]["assumptions"] if "reckoned from the fermentables" in w]
    assert 1.04 < float(words.split()[2]) < 1.06


def test_a_gravity_beside_the_document_goes_before_its_own(world: World) -> None:
    stronger = world.post("/v1/bitterness/beerjson", {**document(), "gravity_sg": 1.080}).json
    own = world.post(
        "/v1/bitterness/beerjson", document(original_gravity={"unit": "sg", "value": 1.080})
    ).json

    assert stronger["ibu_estimate"] == own["ibu_estimate"]
    assert stronger["bitterness"]["inputs_not_used"] == ["original_gravity"]
    both = world.post("/v1/bitterness/beerjson", {**document(), "gravity_sg": 1.05, "gravity_plato": 12.0})
    assert both.json["errors"][0]["pointer"] == "#/gravity_plato"


def test_our_own_export_comes_in_again(world: World) -> None:
    world.grower()
    code = world.listed(report={"oil_shares_percent": {"myrcene": 48.0}, "oil_shares_basis": "peak_area"})
    exported = world.get(f"/v1/lots/{code}/beerjson").json["beerjson"]
    made = document()
    made["beerjson"]["hop_varieties"] = exported["hop_varieties"]
    entry = exported["hop_varieties"][0]
    addition = {**entry, "amount": {"unit": "g", "value": 30}, "timing": BOIL}
    made["beerjson"]["recipes"][0]["ingredients"]["hop_additions"] = [addition]

    found = world.post("/v1/bitterness/beerjson", made)

    assert found.status_code == 200
    assert found.json["hops"][0]["ibu"]["estimate"] > 0


@pytest.mark.parametrize(
    ("path", "value", "pointer"),
    [
        (["alpha_acid", "value"], "10", "/alpha_acid"),
        (["alpha_acid", "value"], 120, "/alpha_acid"),
        (["timing", "duration", "unit"], "fortnight", "/timing/duration/unit"),
        (["timing", "duration", "value"], -1, "/timing/duration"),
    ],
)
def test_a_value_that_cannot_be_is_refused_where_it_is_wrong(
    world: World, path: list[Any], value: Any, pointer: str
) -> None:
    answer = world.post("/v1/bitterness/beerjson", changed(path, value))

    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, f"{HOPS}/0{pointer}")


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
