"""Wet hops: a window that narrows, an hour of collection, an age in hours."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.errors import FixedByListing, InvalidRequest
from service.facts import replace
from service.market.goods.lab_reports import NO_FIGURES, standing_figures
from service.market.goods.lots import Lot
from service.market.goods.wet_hops import refuse_moved_window, refuse_wet_faults, wet_hops
from tests.factories import TODAY, LabReportFactory, LotFactory

PICKED_AT = datetime(2026, 8, 29, 15, 30, tzinfo=UTC)


def wet(**told: Any) -> Lot:
    plain: dict[str, Any] = {"form": "wet_hop", "spells": (), "picked_at": PICKED_AT}
    lot: Lot = LotFactory(**plain | told)
    return lot


def announced(**told: Any) -> Lot:
    window = {"harvest_window_from": date(2026, 8, 25), "harvest_window_to": date(2026, 9, 5)}
    plain = {"harvested_on": None, "picked_at": None, "mass_kg": None, "expected_kg": Decimal(80)}
    return wet(**plain | window | {"state": "listed", "readiness": "announced"} | told)


def faults(lot: Lot) -> list[str]:
    try:
        refuse_wet_faults(lot, today=TODAY)
    except InvalidRequest as refused:
        return [error["pointer"] for error in refused.facts["errors"]]
    return []


def test_age_is_told_in_hours_since_picking() -> None:
    view = wet_hops(wet(), NO_FIGURES, now=PICKED_AT + timedelta(hours=7, minutes=15))

    assert view is not None
    assert view.age_hours == 7.2


def test_without_the_hour_of_picking_the_age_is_not_known_and_not_zero() -> None:
    view = wet_hops(wet(picked_at=None), NO_FIGURES, now=PICKED_AT)

    assert view is not None
    assert view.age_hours is None
    assert any("hour of picking" in words for words in view.words)


def test_moisture_is_measured_or_assumed_and_said_so() -> None:
    lot = wet()
    measured = standing_figures([LabReportFactory(moisture_percent=78.5)])

    assumed, told = (wet_hops(lot, figures, now=PICKED_AT) for figures in (NO_FIGURES, measured))

    assert assumed
    assert told
    assert (assumed.moisture_is_measured, assumed.moisture_percent.estimate) == (False, 80.0)
    assert assumed.moisture_percent.low < 80 < assumed.moisture_percent.high
    assert any("80" in words or "moisture" in words for words in assumed.words)
    assert (told.moisture_is_measured, told.moisture_percent.estimate) == (True, 78.5)


def test_dry_hops_are_no_wet_hops() -> None:
    assert wet_hops(LotFactory(), NO_FIGURES, now=PICKED_AT) is None
    assert faults(LotFactory(picked_at=PICKED_AT, collect_at=PICKED_AT)) == ["#/picked_at", "#/collect_at"]


@pytest.mark.parametrize(
    ("lot", "pointers"),
    [
        (wet(), []),
        (wet(harvested_on=None), ["#/harvested_on"]),
        (wet(picked_at=PICKED_AT - timedelta(days=3)), ["#/picked_at"]),
        (wet(harvested_on=date(2026, 11, 27), picked_at=datetime(2026, 11, 28, tzinfo=UTC)), ["#/picked_at"]),
        (wet(collect_at=PICKED_AT + timedelta(hours=20)), []),
        (wet(collect_at=PICKED_AT + timedelta(days=9)), ["#/collect_at"]),
        (announced(collect_at=datetime(2026, 8, 30, 6, tzinfo=UTC)), []),
        (announced(collect_at=datetime(2026, 9, 30, 6, tzinfo=UTC)), ["#/collect_at"]),
        (announced(harvest_window_to=None, collect_at=PICKED_AT), ["#/collect_at"]),
    ],
)
def test_hours_that_cannot_be_are_named(lot: Lot, pointers: list[str]) -> None:
    assert faults(lot) == pointers


def test_a_window_narrows_under_promises_and_does_not_move() -> None:
    lot = announced(held_kg=Decimal(20))

    refuse_moved_window(
        lot, {"harvest_window_from": date(2026, 8, 29), "harvest_window_to": date(2026, 8, 29)}
    )
    for moved in (
        {"harvest_window_to": date(2026, 9, 9)},
        {"harvest_window_from": date(2026, 8, 20)},
        {"harvest_window_from": None},
    ):
        with pytest.raises(FixedByListing, match="20 kg"):
            refuse_moved_window(lot, moved)


def test_a_window_moves_while_nobody_relies_on_it() -> None:
    later = {"harvest_window_to": date(2026, 9, 9)}

    refuse_moved_window(announced(), later)
    refuse_moved_window(announced(state="draft", held_kg=Decimal(20)), later)
    refuse_moved_window(announced(form="whole_cone", held_kg=Decimal(20)), later)
    refuse_moved_window(replace(announced(held_kg=Decimal(20)), harvest_window_from=None), later)
