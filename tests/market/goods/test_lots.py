"""What a lot is, and what cannot be of one."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import InvalidRequest
from service.facts import replace
from service.market.goods.lots import Package, accept_lot, is_future
from tests.factories import TODAY, LabReportFactory, ListedLotFactory, LotFactory, SpellFactory

BOX = Package(kind="box", count=6, net_kg=Decimal(20))


@given(st.decimals(0, 500, places=3), st.decimals(0, 500, places=3))
def test_free_mass_is_what_is_neither_taken_nor_held(taken_kg: Decimal, held_kg: Decimal) -> None:
    lot = ListedLotFactory(mass_kg=Decimal(1000), taken_kg=taken_kg, held_kg=held_kg)

    assert lot.free_kg + taken_kg + held_kg == Decimal(1000)
    assert lot.shown_state == ("listed" if lot.free_kg > 0 else "sold_out")


def test_before_picking_the_expected_mass_counts() -> None:
    lot = LotFactory(mass_kg=None, expected_kg=Decimal(80))

    assert lot.free_kg == Decimal(80)
    assert LotFactory(mass_kg=None).free_kg == 0


def test_the_open_spell_shows_how_a_lot_is_kept() -> None:
    lot = LotFactory(
        spells=(SpellFactory(), SpellFactory(packing="open", stored_at_c=12.0, residual_oxygen_percent=1.0))
    )

    assert (lot.packing, lot.stored_at_c, lot.residual_oxygen_percent) == ("open", 12.0, 1.0)
    bare = LotFactory(spells=())
    assert (bare.open_spell, bare.packing, bare.stored_at_c, bare.residual_oxygen_percent) == (None,) * 4


def test_picking_ends_on_its_last_day() -> None:
    assert LotFactory().picked_until == date(2026, 8, 29)
    assert LotFactory(harvested_until=date(2026, 8, 31)).picked_until == date(2026, 8, 31)


def test_a_day_is_future_only_after_tomorrow() -> None:
    assert not is_future(date(2026, 11, 26), today=TODAY)
    assert is_future(date(2026, 11, 27), today=TODAY)


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"harvested_on": date(2026, 11, 27)}, "#/harvested_on"),
        ({"harvested_on": None, "harvested_until": date(2026, 8, 30)}, "#/harvested_until"),
        ({"harvested_until": date(2026, 8, 28)}, "#/harvested_until"),
        ({"harvested_until": date(2026, 11, 27)}, "#/harvested_until"),
        (
            {"harvest_window_from": date(2026, 12, 2), "harvest_window_to": date(2026, 12, 1)},
            "#/harvest_window_to",
        ),
        ({"sold_in": "whole_packages"}, "#/packages"),
        ({"sold_in": "whole_packages", "packages": (BOX,)}, "#/packages"),
        ({"packages": (BOX,), "mass_kg": Decimal(100)}, "#/packages"),
        ({"packages": (BOX,), "mass_kg": None}, "#/mass_kg"),
        ({"price_per_kg": Decimal(20)}, "#/currency"),
        ({"currency": "CAD"}, "#/price_per_kg"),
        ({"spells": (SpellFactory(packing="barrier_low_oxygen"),)}, "#/residual_oxygen_percent"),
    ],
    ids=lambda told: str(told)[:50],
)
def test_what_cannot_be_of_a_lot_is_named(told: dict[str, Any], pointer: str) -> None:
    with pytest.raises(InvalidRequest) as refused:
        accept_lot(LotFactory(**told), today=TODAY)

    assert pointer in [fault["pointer"] for fault in refused.value.facts["errors"]]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "told",
    [
        {"packages": (BOX,)},
        {"packages": (BOX,), "mass_kg": Decimal(120), "sold_in": "whole_packages"},
        {"spells": (SpellFactory(packing="barrier_low_oxygen", residual_oxygen_percent=1.2),)},
        {"price_per_kg": Decimal(20), "currency": "CAD"},
    ],
    ids=str,
)
def test_what_can_be_is_accepted(told: dict[str, Any]) -> None:
    lot = LotFactory(**told)

    assert accept_lot(lot, today=TODAY) == lot


def test_a_lot_is_known_by_its_cultivars_code() -> None:
    assert LotFactory().known
    assert not LotFactory(cultivar="Own Seedling 7", cultivar_code=None).known


def test_picking_does_not_begin_after_a_standing_reports_sample() -> None:
    sampled = LabReportFactory(code="R1", sampled_on=date(2026, 9, 3))
    late = LotFactory(harvested_on=date(2026, 9, 4), reports=(sampled,))
    corrected = LotFactory(
        harvested_on=date(2026, 9, 4),
        reports=(
            replace(sampled, corrected_by="R2"),
            replace(sampled, code="R2", sampled_on=date(2026, 9, 5)),
        ),
    )

    with pytest.raises(InvalidRequest) as refused:
        accept_lot(late, today=TODAY)
    assert [fault["pointer"] for fault in refused.value.facts["errors"]] == ["#/harvested_on"]  # type: ignore[attr-defined]
    assert accept_lot(corrected, today=TODAY) == corrected
