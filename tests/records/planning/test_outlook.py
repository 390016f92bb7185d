"""The region's sums as the database adds them up, against the lots one by one."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.market.matching.search import SearchFigures
from service.market.matching.search_figures import alpha_on
from service.market.planning.outlook import GoodsKind, SupplyWish
from service.market.planning.outlook_supply import alpha_estimate_kg
from service.records.planning import outlook
from service.records.session import Session
from tests.factories import NOW, TODAY, LotRowFactory, PartyRowFactory

WHOLE = SupplyWish(today=TODAY, listed_only=False, sees_all_prices=True)
LISTED = SupplyWish(today=TODAY, listed_only=True, sees_all_prices=False)
CASCADE = GoodsKind(cultivar_key="CASCADE", role="aroma", crop_year=2026, form="whole_cone")
FIGURES: dict[str, Any] = {
    "day": TODAY.toordinal() - 40,
    "log_alpha": 1.7,
    "alpha_sd_log": 0.06,
    "rate_per_day": 0.001,
    "rate_low_per_day": 0.0004,
    "rate_high_per_day": 0.002,
    "spread_low": 0.01,
    "spread_high": 0.03,
    "alpha_method": "asbc_hops_14",
}


def a_row(**told: Any) -> Any:
    figures = {f"search_{name}": value for name, value in told.pop("figures", {}).items()}
    return LotRowFactory(**figures, **told)


def test_lots_are_added_up_by_kind_and_growers_counted_once(session: Session) -> None:
    first, second = PartyRowFactory(), PartyRowFactory()
    a_row(grower_id=first.id, mass_kg=Decimal("100.125"), taken_kg=Decimal(0))
    a_row(grower_id=first.id, mass_kg=Decimal("50.5"), state="withdrawn")
    a_row(grower_id=second.id, mass_kg=None, expected_kg=Decimal(80))
    a_row(grower_id=second.id, form="pellet", mass_kg=Decimal(7), state="draft")
    a_row(grower_id=second.id, form="pellet", mass_kg=None, state="draft")

    found = {
        (one.kind.form, one.is_weighed): one.stock for one in outlook.add_up_stock(session, WHOLE, now=NOW)
    }
    by_kind, in_all = outlook.count_growers(session, WHOLE, now=NOW)

    cones = found["whole_cone", True]
    assert (cones.lots, cones.mass_kg, cones.free_kg, cones.not_offered_kg) == (
        2,
        Decimal("150.625"),
        Decimal("100.125"),
        Decimal("50.5"),
    )
    assert (found["whole_cone", False].mass_kg, found["pellet", True].not_offered_kg) == (80, 7)
    assert (by_kind[CASCADE], in_all, len(found)) == (2, 2, 3)


def test_the_filters_narrow_every_sum(session: Session) -> None:
    grower = PartyRowFactory().id
    a_row(grower_id=grower)
    a_row(grower_id=grower, crop_year=2025, form="pellet", cultivar_key="NUGGET", role="dual")
    a_row(grower_id=grower, state="withdrawn", crop_year=2024)

    def kinds(**told: Any) -> list[int | None]:
        wish = SupplyWish(**{"today": TODAY, "listed_only": False, "sees_all_prices": True, **told})
        return sorted(one.kind.crop_year or 0 for one in outlook.add_up_stock(session, wish, now=NOW))

    assert kinds() == [2024, 2025, 2026]
    assert kinds(listed_only=True) == [2025, 2026]
    assert kinds(cultivar_keys=("NUGGET", "OTHER")) == [2025]
    assert kinds(roles=("bittering", "dual")) == [2025]
    assert kinds(form="whole_cone") == [2024, 2026]
    assert kinds(crop_year=2024) == [2024]


def test_an_announced_lot_belongs_to_the_year_of_its_window(session: Session) -> None:
    window = {"harvest_window_from": date(2027, 8, 20), "harvest_window_to": date(2027, 9, 1)}
    a_row(
        grower_id=PartyRowFactory().id,
        crop_year=None,
        harvested_on=None,
        mass_kg=None,
        expected_kg=Decimal(60),
        **window,
    )

    (one,) = outlook.add_up_stock(session, WHOLE, now=NOW)
    (row,) = outlook.search_harvest(session, LISTED, now=NOW)

    assert (one.kind.crop_year, one.is_weighed) == (2027, False)
    assert (row.harvest_window_from, row.harvest_window_to, row.growers) == (*window.values(), 1)
    assert (row.cultivar, row.stock.mass_kg) == ("Cascade", 60)


def test_prices_are_ranged_in_each_currency_and_closed_ones_only_for_those_who_see_them(
    session: Session,
) -> None:
    grower = PartyRowFactory().id
    for price, currency, is_open in (
        (20, "CAD", True),
        (30, "CAD", False),
        (9, "EUR", True),
        (None, None, True),
    ):
        told = None if price is None else Decimal(price)
        a_row(grower_id=grower, price_per_kg=told, currency=currency, price_open=is_open)
    a_row(grower_id=grower, price_per_kg=Decimal(1), currency="CAD", taken_kg=Decimal(100), price_open=True)

    def told(wish: SupplyWish) -> list[tuple[str, int, Decimal, Decimal, Decimal]]:
        found = outlook.range_prices(session, wish, now=NOW)[CASCADE]
        return [(p.currency, p.lots, p.free_kg, p.least_per_kg, p.largest_per_kg) for p in found]

    assert told(WHOLE) == [("CAD", 2, 200, 20, 30), ("EUR", 1, 100, 9, 9)]
    assert told(LISTED) == [("CAD", 1, 100, 20, 20), ("EUR", 1, 100, 9, 9)]


def test_the_alpha_of_a_lot_is_the_search_s_own_on_the_day(session: Session) -> None:
    grower = PartyRowFactory().id
    a_row(grower_id=grower, figures=FIGURES, mass_kg=Decimal("80.25"), taken_kg=Decimal("0.25"))
    a_row(grower_id=grower)
    a_row(grower_id=grower, figures=FIGURES, mass_kg=None, expected_kg=Decimal(5))
    later = SupplyWish(today=TODAY + timedelta(days=90), listed_only=True, sees_all_prices=False)

    found = outlook.read_alphas(session, later, now=NOW)

    search = alpha_on(SearchFigures(**FIGURES), later.today)
    assert search is not None
    ours = alpha_estimate_kg(
        found.free_kg,
        found.log_alpha,
        sd_log=found.sd_log,
        below_log=found.below_log,
        above_log=found.above_log,
    )
    assert (found.kind, found.method, found.free_kg.tolist()) == ([CASCADE], ["asbc_hops_14"], [80.0])
    for name in ("estimate", "low", "high"):
        assert getattr(ours, name) == pytest.approx(0.8 * getattr(search, name))


def test_an_empty_region_has_nothing_to_add_up(session: Session) -> None:
    assert outlook.add_up_stock(session, WHOLE, now=NOW) == []
    assert outlook.count_growers(session, WHOLE, now=NOW) == ({}, 0)
    assert outlook.range_prices(session, WHOLE, now=NOW) == {}
    assert len(outlook.read_alphas(session, WHOLE, now=NOW).kind) == 0
    assert outlook.search_harvest(session, WHOLE, now=NOW) == []
