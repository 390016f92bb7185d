"""What may change of a lot, and until when."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.errors import FixedByListing, IllegalStep, InvalidRequest
from service.market.goods.lot_changes import decide_discard, revise_lot
from service.market.goods.lots import Package
from tests.factories import TODAY, ListedLotFactory, LotFactory, SpellFactory


def test_on_a_draft_the_open_spell_is_corrected() -> None:
    revised = revise_lot(LotFactory(), {"stored_at_c": 4.0}, today=TODAY)

    assert revised.spells == (SpellFactory(stored_at_c=4.0),)


def test_later_a_change_of_storage_opens_a_new_spell_today() -> None:
    revised = revise_lot(ListedLotFactory(), {"packing": "open"}, today=TODAY)

    assert revised.spells == (SpellFactory(), SpellFactory(began_on=TODAY, packing="open"))


def test_a_second_change_on_one_day_corrects_that_days_spell() -> None:
    once = revise_lot(ListedLotFactory(), {"packing": "open"}, today=TODAY)
    twice = revise_lot(once, {"stored_at_c": 10.0}, today=TODAY)

    assert twice.spells == (SpellFactory(), SpellFactory(began_on=TODAY, packing="open", stored_at_c=10.0))


def test_storage_that_did_not_change_opens_no_spell() -> None:
    lot = ListedLotFactory()

    assert (
        revise_lot(lot, {"stored_at_c": -2.0, "packing": "barrier_vacuum"}, today=TODAY).spells == lot.spells
    )


def test_the_first_spell_begins_with_the_harvest() -> None:
    bare = LotFactory(harvested_on=None, crop_year=None, spells=())

    stored = revise_lot(bare, {"packing": "open", "stored_at_c": 4.0}, today=TODAY)
    picked = revise_lot(stored, {"harvested_on": date(2026, 11, 20)}, today=TODAY)

    assert stored.spells[0].began_on == TODAY
    assert (picked.spells[0].began_on, picked.crop_year) == (date(2026, 11, 20), 2026)


def test_a_drafts_storage_may_be_taken_back_whole_but_not_in_part() -> None:
    assert revise_lot(LotFactory(), {"packing": None, "stored_at_c": None}, today=TODAY).spells == ()
    with pytest.raises(InvalidRequest) as refused:
        revise_lot(LotFactory(), {"packing": None}, today=TODAY)
    assert refused.value.facts["errors"][0]["pointer"] == "#/packing"  # type: ignore[index]


def test_a_drafts_harvest_may_be_taken_back() -> None:
    assert revise_lot(LotFactory(spells=()), {"harvested_on": None}, today=TODAY).crop_year is None


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"cultivar": "Cascade", "cultivar_code": "CASCADE"}, "cultivar"),
        ({"form": "pellet"}, "form"),
        ({"harvested_on": date(2026, 8, 30)}, "harvested_on"),
    ],
)
def test_what_a_listing_fixed_stays(changes: dict[str, Any], field: str) -> None:
    with pytest.raises(FixedByListing) as refused:
        revise_lot(ListedLotFactory(), changes, today=TODAY)

    assert field in refused.value.facts["fields"]  # type: ignore[operator]


def test_the_same_again_is_no_change() -> None:
    lot = ListedLotFactory()

    assert revise_lot(lot, {"cultivar": "Willamette", "form": "whole_cone"}, today=TODAY) == lot


def test_the_mass_never_falls_below_what_is_promised() -> None:
    lot = ListedLotFactory(taken_kg=Decimal(40), held_kg=Decimal(20))

    assert revise_lot(lot, {"mass_kg": Decimal(60)}, today=TODAY).free_kg == 0
    with pytest.raises(FixedByListing) as refused:
        revise_lot(lot, {"mass_kg": Decimal("59.999")}, today=TODAY)
    assert refused.value.facts["promised_kg"] == Decimal(60)


def test_residual_oxygen_is_kept_with_its_packing() -> None:
    low = {"packing": "barrier_low_oxygen", "residual_oxygen_percent": 1.1}
    lot = revise_lot(ListedLotFactory(), low, today=TODAY)

    assert revise_lot(lot, {"stored_at_c": 2.0}, today=TODAY).residual_oxygen_percent == 1.1
    assert revise_lot(lot, {"packing": "open"}, today=TODAY).residual_oxygen_percent is None


def test_only_a_draft_is_discarded() -> None:
    decide_discard(LotFactory())
    with pytest.raises(IllegalStep):
        decide_discard(ListedLotFactory())


def test_a_draft_whose_sheet_was_handed_out_stays() -> None:
    with pytest.raises(IllegalStep, match="handed out"):
        decide_discard(LotFactory(), sheets_issued=1)


def test_packages_are_changed_as_a_whole() -> None:
    lot = LotFactory(packages=(Package(kind="bale", count=1, net_kg=Decimal(60)),))
    boxes = [Package(kind="box", count=6, net_kg=Decimal(20))]

    assert revise_lot(lot, {"packages": boxes}, today=TODAY).packages == tuple(boxes)


def test_an_announced_lot_keeps_its_crop_year_until_it_is_picked() -> None:
    announced = ListedLotFactory(readiness="announced", harvested_on=None, crop_year=2027, spells=())

    assert revise_lot(announced, {"note": "late bines"}, today=TODAY).crop_year == 2027
    assert revise_lot(announced, {"harvested_on": date(2026, 9, 1)}, today=TODAY).crop_year == 2026
