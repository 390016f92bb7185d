"""Units and steps of the exchange format."""

from typing import Any

import pytest

from service.errors import InvalidRequest
from service.market.brewing.base_methods import BASE_METHODS
from service.market.brewing.beerjson import LITRES_BY_UNIT, read_recipe


def a_document(**recipe: Any) -> dict[str, Any]:
    hop = {
        "name": "Nugget",
        "alpha_acid": {"unit": "%", "value": 10.0},
        "amount": {"unit": "kg", "value": 0.0425},
        "timing": {"use": "add_to_boil", "duration": {"unit": "min", "value": 60}},
    }
    return {
        "recipes": [
            {
                "name": "Ale",
                "batch_size": {"unit": "l", "value": 20.0},
                "original_gravity": {"unit": "sg", "value": 1.05},
                "ingredients": {"hop_additions": [hop]},
                **recipe,
            }
        ]
    }


def read(document: dict[str, Any], **told: Any) -> dict[str, Any]:
    plain = {"recipe": 0, "lot_by_addition": {}, "reach": BASE_METHODS["tinseth"].reach}
    return read_recipe(document, **{**plain, **told}).brew


@pytest.mark.parametrize(
    ("unit", "litres"),
    [
        # NIST Handbook 44, Appendix C; Weights and Measures Act 1985 for the imperial gallon.
        ("gal", 3.785411784),
        ("bbl", 117.347765304),
        ("qt", 0.946352946),
        ("floz", 0.0295735295625),
        ("tbsp", 0.01478676478125),
        ("tsp", 0.00492892159375),
        ("cup", 0.2365882365),
        ("pt", 0.473176473),
        ("igal", 4.54609),
        ("iqt", 1.1365225),
        ("ipt", 0.56826125),
        ("ifloz", 0.0284130625),
        ("ibbl", 163.65924),
        ("ml", 0.001),
        ("l", 1.0),
    ],
)
def test_volumes_are_the_defined_ones(unit: str, litres: float) -> None:
    assert LITRES_BY_UNIT[unit] == pytest.approx(litres, rel=1e-9)


def test_the_recipe_becomes_a_brew_with_its_own_pointers() -> None:
    # 0.0425 kg are 42.5 g.
    brew = read(a_document(boil={"boil_time": {"unit": "hr", "value": 1}}), elevation_m=120.0)

    assert brew == {
        "wort": {"volume_l": 20.0, "volume_of": "cold_wort", "gravity_sg": 1.05, "elevation_m": 120.0},
        "additions": [
            {
                "mass_g": pytest.approx(42.5),
                "pointer": "#/beerjson/recipes/0/ingredients/hop_additions/0",
                "at": "boil",
                "minutes": 60.0,
                "alpha_percent": 10.0,
            }
        ],
        "kettle": {"boil_minutes": 60.0},
    }


@pytest.mark.parametrize(("heat_c", "at"), [(94.0, "boil"), (90.0, "whirlpool")])
def test_a_boil_on_a_mountain_is_no_hop_stand(heat_c: float, at: str) -> None:
    document = a_document(
        boil={
            "boil_time": {"unit": "min", "value": 60},
            "boil_steps": [{"start_temperature": {"unit": "C", "value": heat_c}}],
        }
    )
    document["recipes"][0]["ingredients"]["hop_additions"][0]["timing"]["step"] = 1

    # Water boils at 94.9 °C at 1524 m (published table: 95).
    assert read(document, elevation_m=1524.0)["additions"][0]["at"] == at


def test_a_lot_in_the_place_of_a_hop_brings_its_own_alpha_and_form() -> None:
    addition = read(a_document(), lot_by_addition={0: "ALDER-2026-01"})["additions"][0]

    assert addition["lot_code"] == "ALDER-2026-01"
    assert "alpha_percent" not in addition


def test_a_recipe_that_is_not_there_is_refused() -> None:
    with pytest.raises(InvalidRequest, match="1 recipes"):
        read(a_document(), recipe=3)


def test_a_pound_in_a_gallon_gives_the_gravity_that_is_its_yield() -> None:
    # The definition of the format's `potential`: one pound of fermentable in one US gallon of wort.
    document = a_document(
        batch_size={"unit": "gal", "value": 1.0}, efficiency={"brewhouse": {"unit": "%", "value": 100.0}}
    )
    recipe = document["recipes"][0]
    del recipe["original_gravity"]
    recipe["ingredients"]["fermentable_additions"] = [
        {
            "type": "grain",
            "amount": {"unit": "lb", "value": 1.0},
            "yield": {"potential": {"unit": "sg", "value": 1.037}},
        }
    ]

    assert read(document)["wort"]["gravity_sg"] == pytest.approx(1.037, abs=1e-5)
