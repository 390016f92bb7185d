"""The flow bounds every plan, and plans made of it hold."""

import numpy as np
import pytest
from hypothesis import given, settings

from service.market.planning.allocation_bounds import better_prices, first_flow, flow_bound
from service.market.planning.allocation_flow import flow, plan_from_flow
from service.market.planning.allocation_model import Model, faults_of, grid_of, without_sizes
from service.market.planning.allocation_start import take_in_turn
from tests.benchmarks.hop_market import hop_market
from tests.market.planning.allocation_cases import a_model, best_by_trying, small_models


@given(model=small_models())
@settings(max_examples=60, deadline=None)
def test_no_plan_is_worth_more_than_the_flow(model: Model) -> None:
    found = first_flow(without_sizes(model))

    assert found is None or found.worth >= best_by_trying(model) - 1e-6
    assert (found is None) == (model.pairs == 0)


@given(model=small_models())
@settings(max_examples=60, deadline=None)
def test_a_plan_out_of_the_flow_holds_whatever_the_packages_and_sizes(model: Model) -> None:
    every = np.arange(model.pairs)
    found = flow(model, every, counted_kg=model.most_kg) if model.pairs else None
    if found is None:
        return

    plan = plan_from_flow(model, found)

    assert faults_of(model, plan) == []
    assert model.worth(plan) <= best_by_trying(model) + 1e-6


def test_lots_counted_as_what_they_gave_come_to_be_few() -> None:
    model = hop_market(requests=150, lots=300, suits=20)
    found = first_flow(model)
    assert found is not None
    bound = better_prices(model, grid_of(model), flow_bound(model, grid_of(model), found), rounds=60)

    plan = plan_from_flow(model, found)

    assert faults_of(model, plan) == []
    used = np.bincount(model.request, found.mass_kg > 1e-6)
    assert used.max() > model.lots_max.max()
    at_prices = take_in_turn(model, np.argsort(-bound.gains).tolist(), prices=bound.prices)
    assert model.worth(plan) > model.worth(at_prices)
    assert model.worth(plan) > 0.95 * bound.worth


def test_a_plan_is_made_of_what_the_first_flow_gave_when_time_is_up() -> None:
    model = hop_market(requests=40, lots=60, suits=10)
    found = first_flow(model)
    assert found is not None

    plan = plan_from_flow(model, found, goes_on=lambda: False)

    assert faults_of(model, plan) == []
    assert 0 < model.worth(plan) <= found.worth


def test_a_flow_that_does_not_end_in_time_is_none() -> None:
    model = hop_market(requests=400, lots=600, suits=20)

    assert flow(model, np.arange(model.pairs), counted_kg=model.most_kg, seconds=1e-6) is None


def test_prices_and_gains_are_those_of_the_linear_program() -> None:
    model = a_model([30.0, 30.0], [40.0], [(0, 0, 0.9), (1, 0, 0.5)])

    found = flow(model, np.arange(2), counted_kg=model.most_kg)

    assert found is not None
    assert found.mass_kg.tolist() == pytest.approx([30.0, 10.0])
    assert (found.worth, found.lot_prices.tolist()) == (pytest.approx(32.0), pytest.approx([0.5]))
    # What is given in part gains nothing beside its price; what is given whole may.
    assert found.gain_per_kg[0] >= -1e-9
    assert found.gain_per_kg[1] == pytest.approx(0.0, abs=1e-9)
