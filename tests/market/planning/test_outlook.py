"""Sums of the region, and who sees which."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from service.market.goods.lots import BLEND
from service.market.people.access import ANYONE, Caller
from service.market.planning.outlook import (
    SPECIALIST_ONLY,
    HarvestRow,
    Stock,
    SupplyWish,
    add_up,
    as_seen,
    look_at_harvest,
    sees_whole_region,
    shown_cultivar,
)
from tests.factories import TODAY

WHOLE = SupplyWish(today=TODAY, listed_only=False, sees_all_prices=True)
LISTED = SupplyWish(today=TODAY, listed_only=True, sees_all_prices=False)
STOCK = Stock(
    lots=2,
    mass_kg=Decimal(100),
    free_kg=Decimal(40),
    not_offered_kg=Decimal(10),
    held_kg=Decimal(20),
    confirmed_kg=Decimal(15),
    delivered_kg=Decimal(5),
    moved_kg=Decimal(8),
    lost_kg=Decimal(2),
    from_lots_kg=Decimal(30),
    reported_kg=Decimal(25),
)


def test_what_came_out_of_other_lots_was_not_grown_again() -> None:
    assert (STOCK.grown_kg, STOCK.reported_percent) == (70, 25.0)
    assert Stock().reported_percent is None


def test_sums_add_up_column_by_column() -> None:
    twice = add_up([STOCK, STOCK])

    assert (twice.lots, twice.mass_kg, twice.lost_kg, twice.grown_kg) == (4, 200, 4, 140)
    assert add_up([]) == Stock()


def test_where_kilograms_went_is_for_the_specialist_alone() -> None:
    seen = as_seen(STOCK, wish=LISTED)

    assert as_seen(STOCK, wish=WHOLE) == STOCK
    assert {getattr(seen, name) for name in SPECIALIST_ONLY} == {None}
    assert (seen.lots, seen.mass_kg, seen.free_kg, seen.grown_kg) == (2, 100, 40, None)


@pytest.mark.parametrize(
    ("caller", "sees"),
    [
        (Caller("specialist"), True),
        (Caller("grower", "ALDER"), False),
        (Caller("brewery", "FINCH"), False),
        (ANYONE, False),
    ],
)
def test_only_the_specialist_sees_the_whole_region(caller: Caller, *, sees: bool) -> None:
    assert sees_whole_region(caller) is sees


def test_a_lot_made_of_several_cultivars_has_none() -> None:
    assert (shown_cultivar(BLEND), shown_cultivar("Cascade")) == (None, "Cascade")


def a_window(first: date, days: int, expected_kg: int, cultivar: str = "Cascade") -> HarvestRow:
    return HarvestRow(
        cultivar=cultivar,
        role="aroma",
        form="whole_cone",
        harvest_window_from=first,
        harvest_window_to=first + timedelta(days=days),
        growers=1,
        stock=Stock(lots=1, mass_kg=Decimal(expected_kg)),
    )


def test_the_harvest_is_told_by_window_and_what_is_overdue_apart() -> None:
    later, now, past = (TODAY + timedelta(days=days) for days in (200, 0, -30))
    rows = [a_window(later, 10, 50), a_window(past, 29, 70), a_window(now, 0, 20)]

    harvest = look_at_harvest(rows, wish=WHOLE)

    assert [(row.stock.mass_kg, row.is_overdue) for row in harvest.rows] == [
        (70, True),
        (20, False),
        (50, False),
    ]
    assert (harvest.totals.mass_kg, harvest.overdue_kg, harvest.cautions) == (140, 70, ())


def test_the_harvest_as_anybody_sees_it_says_so() -> None:
    harvest = look_at_harvest([a_window(TODAY, 3, 50)], wish=LISTED)

    assert (harvest.is_whole, harvest.totals.held_kg, harvest.rows[0].stock.held_kg) == (False, None, None)
    assert "listed lots" in harvest.cautions[0]
