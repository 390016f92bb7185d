"""A brew made ready from what was asked and the lots it names."""

from datetime import date
from typing import Any

import pytest

from service.errors import InvalidRequest
from service.market.brewing.brew_making import lot_codes, make_brew
from tests.factories import LabReportFactory, LotFactory

ON = date(2027, 2, 1)
WORT = {"volume_l": 20.0, "gravity_sg": 1.05}


def made(additions: list[dict[str, Any]], **told: Any):  # type: ignore[no-untyped-def]  # Brew
    lot = LotFactory(code="ALDER-2026-01", reports=(LabReportFactory(code="R1"),))
    asked = {"wort": WORT, "additions": additions, **told}
    return make_brew(asked, lots={lot.code: lot}, on=ON, alpha_basis="estimated")


def test_lots_are_named_once_in_their_order() -> None:
    additions = [{"lot_code": "B"}, {"alpha_percent": 5.0}, {"lot_code": "A"}, {"lot_code": "B"}]

    assert lot_codes(additions) == ["B", "A"]


def test_plato_becomes_gravity() -> None:
    # 12 °P are 1.0484 by the sugar table (NBS Circular C440).
    addition = {"alpha_percent": 5.0, "mass_g": 1.0, "at": "boil", "minutes": 5.0, "gravity_plato": 12.0}
    brew = made([addition], wort={"volume_l": 20.0, "gravity_plato": 12.0})

    assert brew.wort.gravity_sg == pytest.approx(1.0484, abs=1e-4)
    assert brew.additions[0].gravity_sg == brew.wort.gravity_sg


def test_a_lot_lends_its_form_oil_and_one_alpha_to_all_its_additions() -> None:
    addition = {"lot_code": "ALDER-2026-01", "mass_g": 100.0, "at": "boil", "minutes": 60.0}

    first, second = made([addition, {**addition, "form": "whole_cone", "minutes": 5.0}]).additions

    assert (first.form, first.oil_ml_per_100g, first.moisture_percent) == ("whole_cone", 1.2, 9.1)
    assert first.alpha is second.alpha
    assert (first.pointer, second.pointer) == ("#/additions/0", "#/additions/1")
    assert first.alpha.lot_code == "ALDER-2026-01"


def test_a_form_that_is_not_the_lots_is_refused() -> None:
    addition = {"lot_code": "ALDER-2026-01", "mass_g": 100.0, "at": "mash", "form": "pellet"}

    with pytest.raises(InvalidRequest) as refused:
        made([addition])

    assert refused.value.facts["errors"][0]["pointer"] == "#/additions/0/form"


def test_kettle_and_recoveries_are_taken_over() -> None:
    brew = made(
        [{"form": "wet_hop", "mass_g": 100.0, "at": "boil", "minutes": 60.0}],
        kettle={"boil_minutes": 75.0, "readings": {"at_minutes": [0.0, 5.0], "temperatures_c": [99.0, 90.0]}},
        recoveries={"kettle_to_wort_percent": 80.0},
    )

    assert (brew.kettle.boil_minutes, brew.kettle.at_minutes) == (75.0, (0.0, 5.0))
    assert (brew.recoveries.kettle_to_wort_percent, brew.recoveries.wort_to_beer_percent) == (80.0, None)
    assert brew.additions[0].alpha.percent == 1.5
