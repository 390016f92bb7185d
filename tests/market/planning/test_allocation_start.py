"""Requests that take in turn."""

import numpy as np
import pytest
from hypothesis import given, settings

from service.market.planning.allocation_exact import solve_pairs
from service.market.planning.allocation_model import Model, faults_of
from service.market.planning.allocation_start import best_parcels, take_in_turn
from tests.market.planning.allocation_cases import a_model, small_models


@given(model=small_models())
@settings(max_examples=60, deadline=None)
def test_take_in_turn_breaks_nothing_and_leaves_nobody_a_better_first_choice(model: Model) -> None:
    plan = take_in_turn(model, range(len(model.need_kg)))

    assert faults_of(model, plan) == []
    first = np.flatnonzero(model.request == 0)
    alone = solve_pairs(model, first, free_kg=model.stock_kg, seconds=10)
    assert alone is not None
    own = float(model.worth_per_kg[first] @ plan[first])
    assert own <= float(model.worth_per_kg[first] @ alone.mass_kg) + 1e-6


@pytest.mark.parametrize("lots", [1, 2, 3, 5])
def test_best_parcels_are_exact_for_few_lots_in_any_mass_and_near_it_for_more(lots: int) -> None:
    chance = np.random.default_rng(7)
    stock = chance.integers(20, 60, 12).astype(float).tolist()
    worth = chance.integers(1, 100, 12) / 100
    model = a_model([95.5], stock, [(0, lot, worth[lot]) for lot in range(12)], least_kg=18, lots_max=[lots])
    every = np.arange(12)
    exact = solve_pairs(model, every, free_kg=model.stock_kg, seconds=10)
    assert exact is not None

    took = best_parcels(model, every, gain_per_kg=model.worth_per_kg, left_kg=model.stock_kg)

    assert faults_of(model, took) == []
    assert model.worth(took) == pytest.approx(model.worth(exact.mass_kg), rel=1e-6 if lots <= 3 else 0.05)


def test_a_parcel_is_cut_down_to_make_room_for_the_least_of_another() -> None:
    model = a_model([100], [95, 90], [(0, 0, 1.0), (0, 1, 0.9)], least_kg=20)

    assert take_in_turn(model, [0]).tolist() == [80, 20]


def test_who_comes_later_takes_what_is_left() -> None:
    model = a_model([30, 30], [40], [(0, 0, 0.5), (1, 0, 1.0)])

    assert take_in_turn(model, [0, 1]).tolist() == [30, 10]
    assert take_in_turn(model, [1, 0]).tolist() == [10, 30]


def test_at_prices_nobody_takes_what_is_worth_more_to_others() -> None:
    model = a_model([30, 30], [40], [(0, 0, 0.5), (1, 0, 1.0)])

    assert take_in_turn(model, [0, 1], prices=np.array([0.6])).tolist() == [0, 30]
