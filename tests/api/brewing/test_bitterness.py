"""Bitterness and doses over HTTP: whole bodies, lots, refusals."""

from typing import Any

import marshmallow as ma
import pytest

from service.api.brewing.bitterness import DoseAnswer
from service.api.brewing.brew_answers import BitternessAnswer
from tests.builders import World

WORT = {"volume_l": 1000.0, "gravity_sg": 1.050}
TOLD = {"alpha_percent": 5.4, "form": "pellet", "mass_g": 1500.0, "at": "boil", "minutes": 60}
PELLETS = {"cultivar": "Nugget", "form": "pellet"}


def body(*additions: dict[str, Any], **told: Any) -> dict[str, Any]:
    return {"wort": WORT, "additions": list(additions) or [TOLD], **told}


def near(value: float) -> Any:
    return pytest.approx(value, rel=1e-6)


def test_post_bitterness_answers_the_whole_body(world: World) -> None:
    # Tinseth equation at 1.050 and 60 minutes: 23.07 %; 5.4 % of 1.5 kg in 1000 L: 18.68 IBU. The interval by hand:
    # 8 and 3 % scatter and 0.70 to 1.40 of the model, as logarithms in quadrature.
    dry = {"alpha_percent": 5.4, "form": "pellet", "mass_g": 4000.0, "at": "dry_hop"}
    answer = world.post("/v1/bitterness", body(TOLD, dry, kettle={"boil_minutes": 60}))

    assert answer.status_code == 200
    found = answer.json
    assert found == {
        "method": "tinseth",
        "alpha_basis": "estimated",
        "ibu": {
            "estimate": near(18.683790),
            "low": near(12.735156),
            "high": near(26.902561),
            "confidence": 0.9,
        },
        # Alpha alone: 8 and 3 % in quadrature.
        "alpha_alone_ibu": {
            "estimate": near(18.683790),
            "low": near(16.237450),
            "high": near(21.498697),
            "confidence": 0.9,
        },
        "additions": [
            {
                "alpha_percent": 5.4,
                "form": "pellet",
                "mass_g": 1500.0,
                "at": "boil",
                "minutes": 60.0,
                "form_factor": 1.0,
                "alpha_percent_used": 5.4,
                "alpha_method": None,
                "alpha_report": None,
                "utilization_percent": near(23.066408),
                "ibu": found["ibu"],
                "alpha_alone_ibu": found["alpha_alone_ibu"],
                "reason": None,
                "humulinone_bitterness_iso_mg_per_l": None,
                "water_l": None,
                "cautions": [],
            },
            {
                "alpha_percent": 5.4,
                "form": "pellet",
                "mass_g": 4000.0,
                "at": "dry_hop",
                "form_factor": 1.0,
                "alpha_percent_used": 5.4,
                "alpha_method": None,
                "alpha_report": None,
                "utilization_percent": None,
                "ibu": None,
                "alpha_alone_ibu": None,
                "reason": (
                    "Nothing isomerises in cold beer, so dry hops give no classic IBU; what their humulinones "
                    "may add by taste stands apart."
                ),
                "humulinone_bitterness_iso_mg_per_l": {"low": near(4.752), "high": near(11.88)},
                "water_l": None,
                "cautions": [
                    "Dry hops carry enzymes that make fermentation start again: 10 g/L of Cascade pellets with "
                    "yeast at 20 °C took 2 °P in 40 days, 4.75 volumes of CO2 and 1.3 % alcohol. Packages can "
                    "burst; let gravity settle before packing."
                ],
            },
        ],
        "volume_of": "finished_beer",
        "volume_l_used": 1000.0,
        "recoveries_percent": {},
        "own_utilization": None,
        "inputs_not_used": ["kettle/boil_minutes"],
        "assumptions": [
            "form factor 1.00 where none was given (common practice, no source)",
            "the volume is taken as it stands: 1000 L of finished beer",
            "a brewery may get 0.70 to 1.40 times what the Tinseth rule gives (assumption, no source)",
            "alpha given in the request is taken as it stands, for the day of the brew",
            "its method is not told: 8 % between laboratories (assumption, no source)",
            "pellets of one homogenised run vary by 3 % between packages (assumption, no source)",
            "one package is taken to have been cored where the report names no number (assumption, no source)",
        ],
        "cautions": [
            "A figure for another day or for a brew is an estimate with an interval. It rests on the inputs, "
            "the method and the assumptions named beside it.",
            "IBU is a reading of absorbance, not milligrams of iso-alpha-acids: beers of 47.5 and 49.9 IBU held "
            "39.9 and 2.2 mg/L. Estimates from a recipe differ from brewery to brewery.",
        ],
        "sources": [
            "G. Tinseth, hop utilisation article: utilization and mg/L formula",
            "Hahn et al. 2018, J. Agric. Food Chem. 66:3505, doi 10.1021/acs.jafc.7b05784: humulinones",
        ],
    }


def fits_schema(schema: type[ma.Schema], found: dict[str, Any]) -> dict[str, Any]:
    """What the schema would have written of it, and that nothing needed is missing."""
    assert schema().validate(found) == {}
    return schema().dump(found)  # type: ignore[no-any-return]


@pytest.mark.parametrize("method", ["tinseth", "kinetic"])
def test_the_answer_is_what_the_document_says(world: World, method: str) -> None:
    world.grower()
    lot = world.listed()
    stand = {"lot_code": lot, "mass_g": 500, "at": "whirlpool", "minutes": 20, "temperature_c": 85}
    wet = {"form": "wet_hop", "mass_g": 500, "at": "boil", "minutes": 5}
    dry = {"lot_code": lot, "mass_g": 500, "at": "dry_hop"}

    found = world.post("/v1/bitterness", body(TOLD, stand, wet, dry, method=method)).json

    assert fits_schema(BitternessAnswer, found) == found


def test_a_lots_alpha_is_estimated_for_the_day_of_the_brew(world: World) -> None:
    world.grower()
    lot = world.listed()
    addition = {"lot_code": lot, "mass_g": 900, "at": "boil", "minutes": 60}
    storage = world.get(f"/v1/lots/{lot}/storage", on="2027-02-01").json["alpha_percent"]

    aged = world.post("/v1/bitterness", body(addition, brewed_on="2027-02-01")).json["additions"][0]
    fresh = world.post("/v1/bitterness", body(addition, alpha_basis="as_analysed")).json["additions"][0]

    assert aged["alpha_percent_used"] == pytest.approx(storage["estimate"])
    assert fresh["alpha_percent_used"] == 5.4
    assert (aged["alpha_report"], aged["alpha_method"]) == ("R1", "asbc_hops_14")
    assert aged["ibu"]["estimate"] < fresh["ibu"]["estimate"]
    assert aged["lot_code"] == lot


def test_what_the_brewer_does_until_the_brew_counts(world: World) -> None:
    world.grower()
    addition = {"lot_code": world.listed(), "mass_g": 900, "at": "boil", "minutes": 60}
    warm = {"from": "2026-12-01", "kept_at_c": 20, "packing": "open"}

    as_stored = world.post("/v1/bitterness", body(addition, brewed_on="2027-06-01")).json
    kept_warm = world.post("/v1/bitterness", body(addition, brewed_on="2027-06-01", storage=warm)).json

    assert kept_warm["ibu"]["estimate"] < as_stored["ibu"]["estimate"]


def test_kinetic_shows_the_recoveries_it_took(world: World) -> None:
    told = {"kettle_to_wort_percent": 90, "wort_to_beer_percent": 80}

    default = world.post("/v1/bitterness", body(method="kinetic")).json
    own = world.post("/v1/bitterness", body(method="kinetic", recoveries=told)).json

    assert default["recoveries_percent"]["wort_to_beer_percent"] == {
        "value": 78.0,
        "low": 65.0,
        "high": 92.0,
        "published_low": 66.3,
        "published_high": 95.0,
        "is_default": True,
        "source": (
            "18 % lost in fermentation (Nielsen) and 4.7 % at the filter (both second hand) leave 78 %; a whole "
            "cellar lost 33.7 % (Justus 2018); the interval is ours"
        ),
    }
    assert own["recoveries_percent"]["kettle_to_wort_percent"]["value"] == 90
    assert own["recoveries_percent"]["kettle_to_wort_percent"]["source"] == "given in the request"


def test_cooling_readings_are_followed(world: World) -> None:
    stand = {"alpha_percent": 5.4, "mass_g": 500, "at": "whirlpool", "minutes": 20}
    readings = {"at_minutes": [0, 10, 30], "temperatures_c": [99, 92, 70]}
    asked = body(stand, method="kinetic", kettle={"boil_minutes": 60, "readings": readings})

    answer = world.post("/v1/bitterness", asked)

    assert answer.status_code == 200
    assert answer.json["additions"][0]["ibu"]["estimate"] > 0
    assert answer.json["inputs_not_used"] == []


@pytest.mark.parametrize(
    ("told", "pointers"),
    [
        ({"alpha_precent": 5.4}, ["#/additions/0/alpha_precent"]),
        ({"lot_code": "ALDER-2026-01"}, ["#/additions/0/alpha_percent"]),
        ({"alpha_percent": None}, ["#/additions/0/alpha_percent"]),
        ({"alpha_percent": "5.4"}, ["#/additions/0/alpha_percent"]),
        ({"mass_g": 0}, ["#/additions/0/mass_g"]),
        ({"mass_g": 1e9}, ["#/additions/0/mass_g"]),
        ({"at": "sparge"}, ["#/additions/0/at"]),
        ({"minutes": -1}, ["#/additions/0/minutes"]),
        ({"form": "plug"}, ["#/additions/0/form"]),
        ({"form_factor": 3}, ["#/additions/0/form_factor"]),
        ({"gravity_sg": 1.05, "gravity_plato": 12}, ["#/additions/0/gravity_plato"]),
    ],
)
def test_an_addition_that_does_not_fit_is_refused_where_it_is_wrong(
    world: World, told: dict[str, Any], pointers: list[str]
) -> None:
    answer = world.post("/v1/bitterness", body({**TOLD, **told}))

    assert answer.status_code == 422
    assert answer.json["type"] == "/problems/invalid-request"
    assert [fault["pointer"] for fault in answer.json["errors"]] == pointers


@pytest.mark.parametrize(
    ("told", "pointers"),
    [
        ({"additions": []}, ["#/additions"]),
        ({"wort": {"volume_l": 20}}, ["#/wort/gravity_sg"]),
        ({"wort": {**WORT, "gravity_plato": 12}}, ["#/wort/gravity_plato"]),
        ({"wort": {**WORT, "volume_of": "kettle"}}, ["#/wort/volume_of"]),
        ({"method": "own"}, ["#/method"]),
        ({"alpha_basis": "fresh"}, ["#/alpha_basis"]),
        ({"brewed_on": "2027-02-30"}, ["#/brewed_on"]),
        ({"storage": {"packing": "open"}}, ["#/storage/kept_at_c"]),
        ({"utilization_fit": "U1"}, ["#/utilization_fit"]),
        (
            {"kettle": {"readings": {"at_minutes": [0, 1], "temperatures_c": [99, 98]}, "lid": 1}},
            ["#/kettle/lid"],
        ),
        ({"recoveries": {"kettle_to_wort_percent": 0}}, ["#/recoveries/kettle_to_wort_percent"]),
    ],
)
def test_a_brew_that_does_not_fit_is_refused_where_it_is_wrong(
    world: World, told: dict[str, Any], pointers: list[str]
) -> None:
    answer = world.post("/v1/bitterness", body(**told))

    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json["errors"]] == pointers


def test_plato_is_taken_instead_of_gravity(world: World) -> None:
    by_sg = world.post("/v1/bitterness", body(wort={"volume_l": 1000, "gravity_sg": 1.0484}))
    by_plato = world.post("/v1/bitterness", body(wort={"volume_l": 1000, "gravity_plato": 12.0}))

    assert by_plato.json["ibu"]["estimate"] == pytest.approx(by_sg.json["ibu"]["estimate"], rel=1e-3)


def test_a_lot_that_is_not_shown_answers_like_one_that_is_not_there(world: World) -> None:
    world.grower()
    world.grower("ROWAN")
    world.brewery()
    draft = world.draft()
    world.report(draft)
    addition = {"lot_code": draft, "mass_g": 900, "at": "boil", "minutes": 60}

    for who in (None, "ROWAN", "FINCH"):
        hidden = world.post("/v1/bitterness", body(addition), who=who)
        absent = world.post("/v1/bitterness", body({**addition, "lot_code": "ALDER-2026-99"}), who=who)
        assert hidden.status_code == absent.status_code == 404
        assert hidden.json["detail"].replace(draft, "X") == absent.json["detail"].replace(
            "ALDER-2026-99", "X"
        )
    assert world.post("/v1/bitterness", body(addition), who="ALDER").status_code == 200
    assert world.post("/v1/bitterness", body(addition), who="specialist").status_code == 200


def test_a_lot_that_was_never_measured_is_named(world: World) -> None:
    world.grower()
    code = world.draft()
    world.post(f"/v1/lots/{code}/listing", {"as": "awaiting_analysis"}, who="ALDER")

    answer = world.post(
        "/v1/bitterness", body(TOLD, {"lot_code": code, "mass_g": 900, "at": "boil", "minutes": 60})
    )

    assert answer.status_code == 422
    assert answer.json["type"] == "/problems/figure-missing"
    assert (answer.json["lot_code"], answer.json["pointer"]) == (code, "#/additions/1/lot_code")


def test_a_brew_before_the_sampling_is_refused(world: World) -> None:
    world.grower()
    addition = {"lot_code": world.listed(), "mass_g": 900, "at": "boil", "minutes": 60}

    answer = world.post("/v1/bitterness", body(addition, brewed_on="2026-09-01"))

    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "#/brewed_on"


def test_minutes_beyond_the_rule_are_refused_with_the_range(world: World) -> None:
    answer = world.post("/v1/bitterness", body({**TOLD, "minutes": 300}))

    assert answer.status_code == 422
    assert answer.json == {
        "type": "/problems/out-of-range",
        "title": "A figure is outside its range",
        "status": 422,
        "detail": "minutes of addition 1 must be 0 to 240 min, not 300",
        "instance": "/v1/bitterness",
        "name": "minutes",
        "value": 300.0,
        "low": 0,
        "high": 240.0,
        "unit": "min",
        "pointer": "#/additions/0/minutes",
    }


def test_dose_finds_the_mass_of_a_lot_with_its_cost(world: World) -> None:
    world.grower()
    world.brewery()
    lot = world.listed(price_open=False)
    asked = {
        "wort": WORT,
        "alpha_basis": "as_analysed",
        "additions": [TOLD],
        "dose": {"lot_code": lot, "at": "boil", "minutes": 15},
        "wanted_ibu": 25,
    }

    seen = world.post("/v1/bitterness/dose", asked, who="FINCH")
    stranger = world.post("/v1/bitterness/dose", asked)

    assert seen.status_code == 200
    found = seen.json
    assert fits_schema(DoseAnswer, found) == found
    assert found["bitterness"]["ibu"]["estimate"] == pytest.approx(25)
    # U(15 min, 1.050) = 11.44 %, so 6.316 IBU of 5.4 % alpha in 1000 L take 1022 g.
    assert found["mass_g"] == pytest.approx(1022, rel=0.01)
    assert found["cost"]["amount"] == pytest.approx(24 * found["mass_g"] / 1000, abs=0.01)
    assert found["oil_dosed_ml_per_hl"] == pytest.approx(found["mass_g"] / 10 * 1.2 / 100)
    assert stranger.json["cost"] is None
    assert stranger.json["mass_g"] == found["mass_g"]


def test_an_open_price_is_shown_to_anyone(world: World) -> None:
    world.grower()
    lot = world.listed(price_open=True)
    asked = {"wort": WORT, "dose": {"lot_code": lot, "at": "boil", "minutes": 60}, "wanted_ibu": 25}

    assert world.post("/v1/bitterness/dose", asked).json["cost"]["currency"] == "CAD"


def test_swap_puts_a_lot_in_the_place_of_another_hop(world: World) -> None:
    world.grower()
    lot = world.listed(**PELLETS, report={"alpha_percent": 13.5, "oil_ml_per_100g": 2.0})
    asked = {
        "wort": WORT,
        "alpha_basis": "as_analysed",
        "additions": [{**TOLD, "alpha_percent": 6.3, "mass_g": 1000.0}],
        "dose": {"lot_code": lot},
        "replaces": 0,
    }

    answer = world.post("/v1/bitterness/dose", asked)

    assert answer.status_code == 200
    assert answer.json["mass_g"] == pytest.approx(466.67, abs=0.01)
    assert answer.json["swap"] == {
        "replaced_mass_g": 1000.0,
        "mass_g": answer.json["mass_g"],
        "oil_before_ml_per_hl": None,
        "oil_after_ml_per_hl": pytest.approx(46.667 * 2 / 100, rel=1e-4),
        "oil_similarity": None,
        "oil_parts": [],
        "oil_not_compared": "the shares of the oil are not known of both",
    }
    (only,) = answer.json["bitterness"]["additions"]
    assert (only["lot_code"], only["at"], only["minutes"]) == (lot, "boil", 60.0)
    assert "alpha_percent" not in only


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({}, "#/wanted_ibu"),
        ({"wanted_ibu": 30, "replaces": 0}, "#/wanted_ibu"),
        ({"replaces": 0, "share_percent": 50}, "#/share_percent"),
        ({"replaces": 0}, "#/dose/at"),
        ({"replaces": 1, "dose": {"alpha_percent": 5}}, "#/replaces"),
        ({"replaces": 0.5, "dose": {"alpha_percent": 5}}, "#/replaces"),
        ({"wanted_ibu": 30, "dose": {"alpha_percent": 5}}, "#/dose/at"),
        ({"wanted_ibu": 30, "dose": {"alpha_percent": 5, "at": "dry_hop"}}, "#/dose/at"),
        ({"wanted_ibu": 30, "dose": {"alpha_percent": 5, "at": "boil"}}, "#/dose/minutes"),
        ({"wanted_ibu": 0, "dose": {"alpha_percent": 5, "at": "boil"}}, "#/wanted_ibu"),
    ],
)
def test_a_dose_asked_wrongly_is_refused_where_it_is_wrong(
    world: World, told: dict[str, Any], pointer: str
) -> None:
    dose = {"alpha_percent": 5, "at": "boil", "minutes": 60}
    asked = {"wort": WORT, "additions": [TOLD], "dose": dose, **told}

    answer = world.post("/v1/bitterness/dose", asked)

    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == pointer


def test_a_beer_that_is_bitter_enough_already_is_refused(world: World) -> None:
    dose = {"alpha_percent": 5, "at": "boil", "minutes": 60}

    answer = world.post(
        "/v1/bitterness/dose", {"wort": WORT, "additions": [TOLD], "dose": dose, "wanted_ibu": 10}
    )

    assert answer.status_code == 422
    assert answer.json["type"] == "/problems/out-of-range"
    assert answer.json["name"] == "given_ibu"


@pytest.mark.parametrize(
    ("wort", "addition", "words"),
    [
        ({"gravity_sg": 12.4}, {}, "12.4 looks like degrees Plato"),
        ({"gravity_sg": 1050}, {}, "that is 1.05"),
        ({}, {"at": "whirlpool", "temperature_c": 176}, "176 looks like degrees Fahrenheit; that is 80"),
    ],
)
def test_a_slip_of_the_unit_is_named_in_the_refusal(
    world: World, wort: dict[str, Any], addition: dict[str, Any], words: str
) -> None:
    hops = {"alpha_percent": 10, "mass_g": 30, "at": "boil", "minutes": 60, **addition}
    brew = {"wort": {"volume_l": 20, "gravity_sg": 1.05, **wort}, "additions": [hops]}

    answer = world.post("/v1/bitterness", brew)

    assert answer.status_code == 422
    assert words in answer.json["errors"][0]["detail"]


@pytest.mark.parametrize(
    ("volume_l", "alpha_percent", "words"),
    [(0.2, 10.0, "A hectolitre is 100 L"), (20.0, 0.125, "0.125 is 12.5 %")],
)
def test_a_slip_that_is_still_possible_is_a_caution(
    world: World, volume_l: float, alpha_percent: float, words: str
) -> None:
    hops = {"alpha_percent": alpha_percent, "mass_g": 30, "at": "boil", "minutes": 60}
    brew = {"wort": {"volume_l": volume_l, "gravity_sg": 1.05}, "additions": [hops]}

    found = world.post("/v1/bitterness", brew).json

    assert any(words in caution for caution in found["cautions"])
