"""When a lot may be shown, and as what."""

from datetime import date
from decimal import Decimal

import pytest

from service.errors import IllegalStep, ListingIncomplete
from service.facts import replace
from service.market.goods.listing import decide_listing, decide_withdrawal, keep_listed, missing_for_listing
from tests.factories import TODAY, LabReportFactory, ListedLotFactory, LotFactory


def test_an_analysed_lot_is_listed_and_remembers_its_first_day() -> None:
    lot = LotFactory(reports=(LabReportFactory(code="R1"),))

    listed = decide_listing(lot, readiness="analysed", today=TODAY)

    assert (listed.state, listed.readiness, listed.first_listed_on) == ("listed", "analysed", TODAY)


def test_a_lot_listed_again_keeps_its_first_day() -> None:
    withdrawn = decide_withdrawal(ListedLotFactory())

    assert decide_listing(withdrawn, readiness="analysed", today=TODAY).first_listed_on == date(2026, 9, 10)


def test_everything_that_is_missing_is_named_at_once() -> None:
    bare = LotFactory(harvested_on=None, mass_kg=None, spells=())

    with pytest.raises(ListingIncomplete) as refused:
        decide_listing(bare, readiness="analysed", today=TODAY)

    assert refused.value.facts["missing"] == [
        "harvested_on",
        "mass_kg",
        "packing",
        "stored_at_c",
        "moisture_percent",
        "alpha_percent",
        "beta_percent",
    ]


def test_awaiting_analysis_needs_no_figures_and_wet_hops_need_no_acids() -> None:
    assert missing_for_listing(LotFactory(), readiness="awaiting_analysis") == []
    assert missing_for_listing(LotFactory(form="wet_hop", spells=()), readiness="analysed") == []


def test_oil_is_not_needed() -> None:
    lot = LotFactory(reports=(LabReportFactory(code="R1", oil_ml_per_100g=None),))

    assert missing_for_listing(lot, readiness="analysed") == []


def test_an_announced_lot_gives_its_window_and_mass() -> None:
    bare = LotFactory(harvested_on=None, mass_kg=None, spells=())
    window = {"harvest_window_from": date(2026, 12, 1), "harvest_window_to": date(2026, 12, 9)}

    assert missing_for_listing(bare, readiness="announced") == [
        "expected_kg",
        "harvest_window_from",
        "harvest_window_to",
    ]
    announced = decide_listing(
        replace(bare, expected_kg=Decimal(80), **window), readiness="announced", today=TODAY
    )
    assert announced.readiness == "announced"
    with pytest.raises(ListingIncomplete, match="closed on 2026-12-09"):
        decide_listing(announced, readiness="announced", today=date(2026, 12, 10))


def test_a_listed_lot_does_not_step_back() -> None:
    with pytest.raises(IllegalStep):
        decide_listing(ListedLotFactory(), readiness="announced", today=TODAY)


def test_only_a_listed_lot_is_withdrawn() -> None:
    assert decide_withdrawal(ListedLotFactory()).state == "withdrawn"
    with pytest.raises(IllegalStep):
        decide_withdrawal(LotFactory())


def test_a_listed_lot_keeps_what_its_listing_needs() -> None:
    listed = ListedLotFactory()

    assert keep_listed(listed) == listed
    assert keep_listed(LotFactory(mass_kg=None)).mass_kg is None
    with pytest.raises(ListingIncomplete, match="withdraw it first"):
        keep_listed(replace(listed, mass_kg=None))
