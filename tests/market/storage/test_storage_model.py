"""How a lot keeps: the logger where it covers, the spell elsewhere, its own rate everywhere alike."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.market.brewing.alpha_in_use import alpha_of_lot
from service.market.goods.lots import Lot
from service.market.matching.search_figures import alpha_on, index_on, search_figures
from service.market.storage.storage import storage_outlook
from service.market.storage.storage_model import StoragePlan, keeping_of
from service.reference.six_month_storage import six_month_loss
from tests.factories import TODAY, LabReportFactory, ListedLotFactory, SpellFactory, log_of

LOSS = six_month_loss("Willamette")
SAMPLED = date(2026, 9, 3)
REPEATED = (
    LabReportFactory(code="R1"),
    LabReportFactory(code="R2", sampled_on=date(2026, 11, 1), alpha_percent=5.0, hop_storage_index=0.3),
)


def lot_of(at_c: float, **told: object) -> Lot:
    lot: Lot = ListedLotFactory(spells=(SpellFactory(stored_at_c=at_c),), **told)
    return lot


def test_a_logger_that_reads_what_is_stated_changes_the_estimate_by_nothing_and_narrows_it() -> None:
    until = SAMPLED + timedelta(days=60)
    stated = keeping_of(lot_of(5.0), loss=LOSS).exponent(since=SAMPLED, until=until)
    logged = keeping_of(lot_of(5.0, logs=(log_of(days=60, at_c=5.0),)), loss=LOSS).exponent(
        since=SAMPLED, until=until
    )

    assert logged.estimate == pytest.approx(stated.estimate, rel=1e-9)
    assert logged.high < stated.high
    assert logged.low > stated.low


@given(st.integers(0, 80), st.floats(0.01, 1.0), st.floats(-20, 19))
def test_where_a_logger_covers_it_counts_and_the_spell_elsewhere(
    days: int, covered: float, read_c: float
) -> None:
    until = SAMPLED + timedelta(days=60)
    logs = (log_of(days=days, at_c=read_c, covered_fraction=covered),) if days else ()
    mixed = keeping_of(lot_of(5.0, logs=logs), loss=LOSS).exponent(since=SAMPLED, until=until)
    by_spell = keeping_of(lot_of(5.0), loss=LOSS).exponent(since=SAMPLED, until=until)
    by_logger = keeping_of(lot_of(read_c), loss=LOSS).exponent(since=SAMPLED, until=until)

    share = min(days, 60) * covered / 60
    expected = share * by_logger.estimate + (1 - share) * by_spell.estimate
    assert mixed.estimate == pytest.approx(expected, rel=1e-7)
    assert mixed.low <= mixed.estimate <= mixed.high


@given(st.integers(1, 100), st.integers(0, 100))
def test_splitting_a_period_changes_nothing_though_a_logger_and_repeat_analyses_count(
    days: int, split: int
) -> None:
    lot = lot_of(15.0, logs=(log_of(days=45, at_c=25.0),), reports=REPEATED)
    keeping, end = keeping_of(lot, loss=LOSS), SAMPLED + timedelta(days=days)
    middle = SAMPLED + timedelta(days=min(split, days))

    whole = keeping.exponent(since=SAMPLED, until=end)
    parts = [keeping.exponent(since=SAMPLED, until=middle), keeping.exponent(since=middle, until=end)]

    for name in ("estimate", "low", "high"):
        assert sum(getattr(part, name) for part in parts) == pytest.approx(getattr(whole, name), rel=1e-9)


def test_over_20_c_a_logger_widens_upwards() -> None:
    until = SAMPLED + timedelta(days=30)
    cool = keeping_of(lot_of(5.0, logs=(log_of(at_c=19.0),)), loss=LOSS).exponent(since=SAMPLED, until=until)
    hot = keeping_of(lot_of(5.0, logs=(log_of(at_c=21.0),)), loss=LOSS).exponent(since=SAMPLED, until=until)

    assert hot.estimate > cool.estimate
    assert hot.high / hot.estimate > cool.high / cool.estimate


def test_a_growers_logger_says_nothing_of_a_buyers_store() -> None:
    lot = lot_of(5.0, logs=(log_of(days=60, at_c=25.0),))
    opened = date(2026, 10, 1)
    planned = keeping_of(
        lot, loss=LOSS, plan=StoragePlan(from_on=opened, kept_at_c=5.0, packing="barrier_vacuum")
    )

    after = planned.exponent(since=opened, until=date(2026, 11, 1))
    assert after == keeping_of(lot_of(5.0), loss=LOSS).exponent(since=opened, until=date(2026, 11, 1))
    assert planned.exponent(since=SAMPLED, until=opened) == keeping_of(lot, loss=LOSS).exponent(
        since=SAMPLED, until=opened
    )


def test_repeat_analyses_narrow_the_answer() -> None:
    on = date(2027, 3, 1)
    cultivars = keeping_of(lot_of(15.0, reports=REPEATED[1:]), loss=LOSS).exponent(
        since=date(2026, 11, 1), until=on
    )
    own = keeping_of(lot_of(15.0, reports=REPEATED), loss=LOSS).exponent(since=date(2026, 11, 1), until=on)

    assert own.high / own.low < cultivars.high / cultivars.low


@pytest.mark.parametrize("on", [TODAY, date(2027, 1, 15), date(2028, 2, 29)])
@pytest.mark.parametrize(
    "lot",
    [
        lot_of(5.0, logs=(log_of(days=82, at_c=22.0),)),
        lot_of(15.0, reports=REPEATED),
        lot_of(15.0, reports=REPEATED, logs=(log_of(days=70, at_c=8.0),), form="pellet"),
    ],
    ids=["logger", "repeat analyses", "both"],
)
def test_search_doses_and_storage_agree_on_a_lot(lot: Lot, on: date) -> None:
    kept = search_figures(lot, loss=LOSS)
    outlook = storage_outlook(lot, on=on, loss=LOSS)

    searched, index = alpha_on(kept, on), index_on(kept, on)
    assert searched is not None
    assert index is not None
    for name in ("estimate", "low", "high"):
        assert getattr(searched, name) == pytest.approx(getattr(outlook.alpha_percent, name), rel=1e-6)
        assert getattr(index, name) == pytest.approx(getattr(outlook.hop_storage_index, name), rel=2e-3)
    used = alpha_of_lot(lot, basis="on_brew_day", on=on)
    assert used.percent == pytest.approx(outlook.alpha_percent.estimate, rel=1e-9)
