"""Bounds that hold: over the best plan, at whatever prices."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.market.planning.allocation_bounds import (
    best_bundles,
    better_prices,
    first_flow,
    flow_bound,
    for_sizes,
)
from service.market.planning.allocation_exact import solve_pairs
from service.market.planning.allocation_model import Model, grid_of, without_sizes
from service.market.planning.allocation_start import take_in_turn
from tests.benchmarks.hop_market import hop_market
from tests.market.planning.allocation_cases import a_model, best_by_trying, small_models


@given(model=small_models(), prices=st.lists(st.floats(0, 1), min_size=3, max_size=3))
@settings(max_examples=60, deadline=None)
def test_no_plan_is_worth_more_than_the_stock_and_the_best_bundles_at_any_prices(
    model: Model, prices: list[float]
) -> None:
    loose = without_sizes(model)
    own = np.array(prices[: len(loose.stock_kg)])
    gains, _ = best_bundles(loose, grid_of(loose), own)

    assert gains.sum() + own @ loose.stock_kg >= best_by_trying(model) - 1e-9


def test_a_bound_found_without_sizes_has_a_price_for_each_size() -> None:
    model = a_model(
        [30.0, 30.0], [20.0, 5.0, 9.0], [(r, lot, 0.5) for r in (0, 1) for lot in (0, 1, 2)], whole=[7, 7, 3]
    )
    loose = without_sizes(model)

    found = for_sizes(model, flow_bound(loose, grid_of(loose), first_flow(loose)))

    assert loose.stock_kg.tolist() == [9.0, 25.0]
    assert len(found.prices) == 3
    assert found.prices[0] == found.prices[1]
    assert found.worth == pytest.approx(17.0)


@pytest.mark.parametrize("lots", [1, 2, 3, 4, 6, 99])
def test_best_bundles_are_what_a_request_alone_would_take(lots: int) -> None:
    chance = np.random.default_rng(lots)
    stock = chance.integers(5, 60, 12).astype(float).tolist()
    worth = chance.integers(1, 100, 12) / 100
    model = a_model([90.0], stock, [(0, lot, worth[lot]) for lot in range(12)], lots_max=[lots])
    exact = solve_pairs(model, np.arange(model.pairs), free_kg=model.stock_kg, seconds=10)
    assert exact is not None

    gains, asked = best_bundles(model, grid_of(model), np.zeros(12))

    tried_one_by_one = lots <= 3 or lots == 99
    best = model.worth(exact.mass_kg)
    assert gains[0] == pytest.approx(best) if tried_one_by_one else best <= gains[0] + 1e-9 <= 1.05 * best
    assert asked.sum() <= 90 + 1e-9


def test_a_line_of_many_equally_good_lots_is_bounded_without_trying_every_bundle() -> None:
    worth = [0.5 + place / 100 for place in range(20)]
    stock = [40.0 - place for place in range(20)]
    model = a_model([100.0], stock, [(0, lot, worth[lot]) for lot in range(20)], lots_max=[3])
    exact = solve_pairs(model, np.arange(20), free_kg=model.stock_kg, seconds=10)
    assert exact is not None

    gains, _ = best_bundles(model, grid_of(model), np.zeros(20))

    assert model.worth(exact.mass_kg) <= gains[0] + 1e-6 <= 1.1 * model.worth(exact.mass_kg)


def test_better_prices_lower_the_bound_towards_the_best_plan() -> None:
    model = hop_market(requests=60, lots=120, suits=12)
    grid = grid_of(model)

    flow = flow_bound(model, grid, first_flow(model))
    better = better_prices(model, grid, flow, rounds=200)
    plan = take_in_turn(model, np.argsort(-better.gains).tolist(), prices=better.prices)

    assert model.worth(plan) <= better.worth < flow.worth
    assert (better.prices >= 0).all()
    assert (better.worth - model.worth(plan)) / better.worth < 0.12


def test_a_model_without_pairs_is_bounded_by_nothing() -> None:
    model = a_model([10.0], [5.0], [(0, 0, 1.0)], least_kg=9)

    assert flow_bound(model, grid_of(model), first_flow(model)).worth == 0
