"""A brew as it comes in: defaults, and what does not go together."""

from typing import Any

import marshmallow as ma
import pytest

from service.api.brewing.brew_answers import BitternessAnswer, bitterness_body
from service.api.brewing.brew_schemas import BitternessBody, DoseBody, HopsBody
from service.market.brewing.base_methods import BASE_METHODS
from service.market.brewing.bitterness import brew_bitterness
from tests.market.brewing.brew_cases import a_brew, an_addition

WORT = {"volume_l": 20, "gravity_sg": 1.05}
HOPS = {"alpha_percent": 10, "mass_g": 30, "at": "boil", "minutes": 60}


def test_a_brew_is_reckoned_by_tinseth_on_estimated_alpha_unless_told() -> None:
    asked: dict[str, Any] = BitternessBody().load({"wort": WORT, "additions": [HOPS]})

    assert (asked["method"], asked["alpha_basis"]) == ("tinseth", "estimated")
    assert asked["wort"] == {"volume_l": 20.0, "gravity_sg": 1.05, "volume_of": "finished_beer"}
    assert asked["additions"] == [{"alpha_percent": 10.0, "mass_g": 30.0, "at": "boil", "minutes": 60.0}]


def test_wet_hops_alone_may_come_without_an_alpha() -> None:
    assert HopsBody().validate({"form": "wet_hop"}) == {}
    assert HopsBody().validate({"form": "pellet"}) == {"alpha_percent": ["Give lot_code or alpha_percent."]}
    assert HopsBody().validate({}) == {"alpha_percent": ["Give lot_code or alpha_percent."]}


def test_a_dose_may_stand_alone_in_its_beer() -> None:
    dose = {"alpha_percent": 10, "at": "boil", "minutes": 60}

    assert DoseBody().load({"wort": WORT, "dose": dose, "wanted_ibu": 30})["additions"] == []


def test_more_additions_than_a_kettle_sees_are_refused() -> None:
    with pytest.raises(ma.ValidationError, match="Length must be between 1 and 100"):
        BitternessBody().load({"wort": WORT, "additions": [HOPS] * 101})


@pytest.mark.parametrize("method", ["tinseth", "kinetic"])
def test_the_answer_written_by_hand_is_the_one_of_the_schema(method: str) -> None:
    brew = a_brew(
        an_addition(),
        an_addition(at="whirlpool", minutes=5.0, temperature_c=80.0),
        an_addition(at="dry_hop"),
        an_addition(form="wet_hop"),
    )
    sent = [{"alpha_percent": 10.0, "mass_g": 30.0, "at": a.at} for a in brew.additions]

    body = bitterness_body(brew_bitterness(brew, method=BASE_METHODS[method], alpha_basis="estimated"), sent)

    assert BitternessAnswer().validate(body) == {}
    assert BitternessAnswer().dump(body) == body
