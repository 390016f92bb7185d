"""What the region grows: alpha of sums with its interval, quantiles, rows beside totals."""

import math
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.market.planning.outlook import GoodsKind, Stock, StockOfKind, SupplyWish
from service.market.planning.outlook_supply import (
    ROWS_MAX,
    AlphaColumns,
    PriceRange,
    Supply,
    alpha_estimate_kg,
    put_supply_together,
)
from service.science.storage_spread import alpha_left_estimate
from service.science.uncertainty import Estimate
from tests.factories import TODAY

KIND = GoodsKind(cultivar_key="CASCADE", role="aroma", crop_year=2026, form="whole_cone")
OTHER = GoodsKind(cultivar_key="NUGGET", role="bittering", crop_year=2025, form="pellet")
WISH = SupplyWish(today=TODAY, listed_only=False, sees_all_prices=True)


def columns(*lots: tuple[GoodsKind, float, float], method: str = "asbc_hops_14") -> AlphaColumns:
    """Lots by kind, free kilograms and alpha."""
    each = np.ones(len(lots))
    return AlphaColumns(
        kind=[kind for kind, _, _ in lots],
        method=[method for _ in lots],
        free_kg=np.array([free for _, free, _ in lots]),
        log_alpha=np.log([alpha for _, _, alpha in lots]) if lots else np.zeros(0),
        sd_log=0.05 * each,
        below_log=0.1 * each,
        above_log=0.08 * each,
    )


def stock(
    kind: GoodsKind, free_kg: str, *, is_weighed: bool = True, cultivar: str | None = None
) -> StockOfKind:
    mass = Decimal(free_kg)
    return StockOfKind(
        kind=kind,
        cultivar=cultivar or kind.cultivar_key.capitalize(),
        is_weighed=is_weighed,
        stock=Stock(lots=1, mass_kg=mass, free_kg=mass),
    )


def supply(found: list[StockOfKind], alphas: AlphaColumns, **told: Any) -> Supply:
    kinds = {one.kind: 1 for one in found}
    return put_supply_together(
        found,
        **{
            "wish": WISH,
            "growers": kinds,
            "growers_in_all": 1,
            "alphas": alphas,
            "prices": {},
            **told,
        },
    )


@given(
    free_kg=st.floats(0.001, 1e5),
    alpha=st.floats(0.5, 20),
    sd=st.floats(0, 0.5),
    below=st.floats(0, 1),
    above=st.floats(0, 1),
)
def test_the_alpha_of_one_lot_is_as_the_search_estimates_it(
    free_kg: float, alpha: float, sd: float, below: float, above: float
) -> None:
    one = [np.array([value]) for value in (free_kg, math.log(alpha), sd, below, above)]
    found = alpha_estimate_kg(one[0], one[1], sd_log=one[2], below_log=one[3], above_log=one[4])
    alone = alpha_left_estimate(alpha_percent=alpha, alpha_sd_log=sd, log_loss=Estimate(0.0, -above, below))

    assert found.estimate == pytest.approx(free_kg * alone.estimate / 100)
    assert found.low == pytest.approx(free_kg * alone.low / 100)
    assert found.high == pytest.approx(free_kg * alone.high / 100) or alone.high == 100.0


@given(st.lists(st.tuples(st.floats(0.1, 1e4), st.floats(1, 20), st.floats(0, 0.3)), min_size=2, max_size=20))
def test_shared_doubts_do_not_average_out_and_those_of_laboratories_do(
    lots: list[tuple[float, float, float]],
) -> None:
    free, alpha, doubt = (np.array(column) for column in zip(*lots, strict=True))
    none = np.zeros(len(lots))
    shared = alpha_estimate_kg(free, np.log(alpha), sd_log=none, below_log=doubt, above_log=doubt)
    apart = alpha_estimate_kg(
        free, np.log(alpha), sd_log=doubt / 1.6448536269514722, below_log=none, above_log=none
    )

    kg = free * alpha / 100
    assert shared.low == pytest.approx(float((kg * np.exp(-doubt)).sum()))
    assert shared.high == pytest.approx(float((kg * np.exp(doubt)).sum()))
    assert shared.low - 1e-9 <= apart.low <= apart.estimate <= apart.high <= shared.high + 1e-9
    assert apart.estimate == pytest.approx(float(kg.sum()))


def test_what_nobody_analysed_is_told_apart_and_never_counts_as_zero() -> None:
    (row,) = supply([stock(KIND, "100")], columns((KIND, 60.0, 5.0))).rows

    assert (row.alpha.analysed_kg, row.alpha.not_analysed_kg) == (60, 40)
    assert row.alpha.alpha_kg is not None
    assert row.alpha.alpha_kg.estimate == pytest.approx(3.0)
    (bare,) = supply([stock(KIND, "100")], columns()).rows
    assert (bare.alpha.alpha_kg, bare.alpha.not_analysed_kg, bare.alpha.methods) == (None, 100, ())


def test_quantiles_want_three_lots_of_one_kind() -> None:
    lots = [(KIND, 10.0, alpha) for alpha in (4.0, 5.0, 9.0)]
    found = supply([stock(KIND, "30")], columns(*lots))

    quantiles = found.rows[0].alpha.alpha_percent
    assert quantiles is not None
    assert [quantiles.least, quantiles.median, quantiles.largest] == pytest.approx([4.0, 5.0, 9.0])
    assert found.totals.alpha.alpha_percent is None
    assert supply([stock(KIND, "20")], columns(*lots[:2])).rows[0].alpha.alpha_percent is None


def test_totals_are_the_sum_of_rows_and_prices_stay_within_their_currency() -> None:
    prices = {
        kind: [
            PriceRange(
                currency=c, lots=1, free_kg=Decimal(5), least_per_kg=Decimal(p), largest_per_kg=Decimal(p)
            )
        ]
        for kind, c, p in ((KIND, "CAD", 20), (OTHER, "EUR", 9))
    }
    found = supply(
        [stock(KIND, "30.5"), stock(OTHER, "10"), stock(KIND, "7", is_weighed=False)],
        columns((KIND, 30.5, 5.0), (OTHER, 10.0, 12.0)),
        prices=prices,
    )

    assert [(row.cultivar, row.weighed.mass_kg, row.announced.mass_kg) for row in found.rows] == [
        ("Cascade", Decimal("30.5"), 7),
        ("Nugget", 10, 0),
    ]
    assert (found.totals.weighed.mass_kg, found.totals.announced.mass_kg) == (Decimal("40.5"), 7)
    assert found.totals.alpha.analysed_kg == Decimal("40.5")
    assert [(p.currency, p.largest_per_kg) for p in found.totals.prices] == [("CAD", 20), ("EUR", 9)]
    both = supply([stock(KIND, "1"), stock(OTHER, "1")], columns(), prices={**prices, OTHER: prices[KIND]})
    assert [(p.lots, p.free_kg) for p in both.totals.prices] == [(2, 10)]


def test_a_listed_supply_tells_no_more_than_the_search_does() -> None:
    listed = SupplyWish(today=TODAY, listed_only=True, sees_all_prices=False)
    found = supply([stock(KIND, "30")], columns((KIND, 30.0, 5.0)), wish=listed)

    assert (found.is_whole, found.rows[0].weighed.free_kg, found.rows[0].weighed.held_kg) == (False, 30, None)
    assert found.totals.weighed.moved_kg is None
    assert not any("held" in method for method in found.methods)
    assert "listed lots" in found.cautions[0]


def test_cautions_say_what_to_be_careful_of() -> None:
    wet = GoodsKind(cultivar_key="CASCADE", role="aroma", crop_year=2026, form="wet_hop")
    lots = columns((KIND, 30.0, 5.0), (KIND, 30.0, 5.0))
    mixed = AlphaColumns(
        **{
            name: getattr(lots, name)
            for name in ("kind", "free_kg", "log_alpha", "sd_log", "below_log", "above_log")
        },
        method=["asbc_hops_14", "ebc_7_7"],
    )

    said = supply([stock(KIND, "60"), stock(wet, "5")], mixed).cautions

    assert [words[:9] for words in said] == ["wet hops ", "alpha was"]


def test_more_rows_than_are_shown_are_counted_all_the_same() -> None:
    kinds = [
        GoodsKind(cultivar_key=f"K{n}", role="aroma", crop_year=2026 - n % 10, form="pellet")
        for n in range(ROWS_MAX + 3)
    ]
    found = supply([stock(kind, "1") for kind in kinds], columns())

    assert len(found.rows) == ROWS_MAX
    assert {row.kind.crop_year for row in found.rows if row.kind} == set(range(2017, 2027))
    assert found.totals.weighed.lots == ROWS_MAX + 3
    assert found.cautions[0].startswith("3 rows of the oldest crops are left out")
