"""Harvest intervals: which picking keeps them, who is told what, what stands in the record."""

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import IllegalStep, InvalidRequest, NotFound, PickedInsideInterval
from service.facts import replace
from service.market.goods.lots import Lot
from service.market.growing.sprays import (
    Spray,
    accept_spray,
    correct_spray,
    picked_inside,
    require_outside_intervals,
    season_of,
    state_spray_record,
)
from tests.factories import NOW, TODAY, LotFactory

PICKED = date(2026, 8, 29)
SPRAY = Spray(
    code="S1",
    grower_code="ALDER",
    block="North 2",
    season=2026,
    product="Mildewstop 50",
    active_ingredient="an invented sulfur",
    sprayed_on=date(2026, 8, 20),
    harvest_interval_days=14,
    entered_at=NOW,
    entered_by="grower:ALDER",
)


def lot(**told: Any) -> Lot:
    return LotFactory(**{"block": "north 2", **told})


@given(st.integers(-30, 30), st.integers(0, 30), st.integers(0, 5))
def test_picking_keeps_the_interval_if_no_day_of_it_lies_inside(
    sprayed_before: int, days: int, picking_days: int
) -> None:
    spray = replace(SPRAY, sprayed_on=PICKED - timedelta(days=sprayed_before), harvest_interval_days=days)
    picked = lot(harvested_until=PICKED + timedelta(days=picking_days))

    found = picked_inside([picked], [spray])

    picking = {PICKED + timedelta(days=n) for n in range(picking_days + 1)}
    closed = {spray.sprayed_on + timedelta(days=n) for n in range(days)}
    assert bool(found) == bool(picking & closed)


@pytest.mark.parametrize(
    ("told", "changed"),
    [
        ({"block": "South"}, {}),
        ({"block": None}, {}),
        ({"harvested_on": None}, {}),
        ({"grower_code": "ROWAN"}, {}),
        ({}, {"corrected_by": "S2"}),
        ({}, {"sprayed_on": date(2026, 8, 15)}),
    ],
    ids=str,
)
def test_an_entry_concerns_its_own_block_while_it_stands(
    told: dict[str, Any], changed: dict[str, Any]
) -> None:
    assert picked_inside([lot()], [SPRAY])
    assert picked_inside([lot(**told)], [replace(SPRAY, **changed)]) == []


@pytest.mark.parametrize(("closes", "inside"), [(date(2026, 9, 2), True), (date(2026, 9, 3), False)])
def test_a_lot_on_the_bine_breaks_an_interval_only_if_its_whole_window_closes_too_early(
    closes: date, inside: bool
) -> None:
    announced = lot(harvested_on=None, harvest_window_from=date(2026, 8, 25), harvest_window_to=closes)

    found = picked_inside([announced], [SPRAY])

    assert [(one.picked_on, one.window_closes_on) for one in found] == ([(None, closes)] if inside else [])
    if inside:
        with pytest.raises(PickedInsideInterval, match="its window closes on 2026-09-02"):
            require_outside_intervals(announced, [announced], [SPRAY])


def test_the_refusal_names_each_entry_its_days_and_the_earliest_picking_day() -> None:
    second = replace(SPRAY, code="S2", product="Mitestop", harvest_interval_days=21)

    with pytest.raises(PickedInsideInterval, match="could be picked from 2026-09-03 on") as refused:
        require_outside_intervals(lot(), [lot()], [SPRAY, second])

    entries: Any = refused.value.facts["entries"]
    assert [(e["spray"], e["harvest_interval_days"], e["earliest_picking_on"]) for e in entries] == [
        ("S1", 14, "2026-09-03"),
        ("S2", 21, "2026-09-10"),
    ]


def test_of_another_growers_block_only_the_days_are_told() -> None:
    theirs = lot(code="ROWAN-2026-01", grower_code="ROWAN")

    with pytest.raises(PickedInsideInterval) as refused:
        require_outside_intervals(lot(block=None), [theirs], [replace(SPRAY, grower_code="ROWAN")])

    (entry,) = refused.value.facts["entries"]  # type: ignore[misc]
    assert (entry["spray"], entry["product"], entry["harvest_interval_days"]) == (None, None, 14)
    assert "Mildewstop" not in refused.value.detail


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"sprayed_on": TODAY + timedelta(days=2)}, "#/sprayed_on"),
        ({"season": 2025}, "#/season"),
        ({"season": 2028}, "#/season"),
        ({"corrects": "S1"}, "#/reason"),
        ({"reason": "a slip"}, "#/corrects"),
    ],
    ids=str,
)
def test_what_cannot_be_of_an_entry_is_named(changed: dict[str, Any], pointer: str) -> None:
    accept_spray(SPRAY, today=TODAY)

    with pytest.raises(InvalidRequest) as refused:
        accept_spray(replace(SPRAY, **changed), today=TODAY)

    assert refused.value.facts["errors"][0]["pointer"] == pointer  # type: ignore[index]


def test_a_correction_marks_the_old_entry_once() -> None:
    new = replace(SPRAY, code="S2", corrects="S1", reason="the label says 7 days", harvest_interval_days=7)

    old = correct_spray(SPRAY, new)

    assert (old.corrected_by, old.is_standing, old.harvest_interval_days) == ("S2", False, 14)
    with pytest.raises(IllegalStep, match="corrected by S2"):
        correct_spray(old, replace(new, code="S3"))
    with pytest.raises(NotFound):
        correct_spray(None, new)


@pytest.mark.parametrize(
    ("told", "is_kept", "is_product", "kept", "words"),
    [
        ({}, True, False, True, "A spray record is kept for block north 2, season 2026."),
        ({}, False, False, False, "No spray record was kept here"),
        ({"block": None}, False, False, False, "No block is named"),
        ({"block": None}, False, True, None, "spray records of their own"),
        ({"crop_year": None}, False, False, False, "no season yet"),
    ],
)
def test_everybody_is_told_whether_a_record_is_kept_and_that_the_label_decides(
    told: dict[str, Any], is_kept: bool, is_product: bool, kept: bool | None, words: str
) -> None:
    said = state_spray_record(lot(**told), is_kept=is_kept, is_made_of_others=is_product)

    assert said.kept is kept
    assert words in said.words
    assert "label and local law decide" in said.words


def test_before_picking_the_window_gives_the_season() -> None:
    assert season_of(lot(crop_year=None, harvest_window_from=date(2027, 8, 20))) == 2027
