"""The plan of the largest worth and its proof."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings

from service.market.planning.first_come import take_in_turn
from service.market.planning.model import Model, violations_of
from service.market.planning.solving import (
    EACH_ALONE,
    EXACT_PAIRS,
    FIRST_COME,
    LINEAR_PROGRAM,
    ROUNDED,
    Effort,
    relax,
    round_off,
    solve,
    solve_exactly,
    worth_of_each_alone,
)
from tests.benchmarks.hop_market import hop_market
from tests.market.planning.allocation_cases import a_model, best_by_trying, small_models

EFFORT = Effort(clock=lambda: 0.0, until=600.0)


@given(model=small_models())
@settings(max_examples=60, deadline=None)
def test_a_small_plan_is_proven_optimal_and_is_what_trying_every_plan_finds(model: Model) -> None:
    found = solve(model, EFFORT, arrival=range(model.requests))

    assert found.is_optimal
    assert not found.is_cut
    assert found.worth == pytest.approx(best_by_trying(model), abs=1e-6)
    assert found.gap == pytest.approx(0, abs=1e-5)


@given(model=small_models())
@settings(max_examples=60, deadline=None)
def test_no_plan_is_worth_more_than_a_bound(model: Model) -> None:
    best = best_by_trying(model)
    relaxed = relax(model, np.arange(model.pairs), counted_kg=model.most_kg, seconds=60)

    assert relaxed is not None
    assert relaxed.worth >= best - 1e-6
    assert worth_of_each_alone(model) >= best - 1e-9
    assert solve_exactly(model, seconds=60).bound >= best - 1e-6


@given(model=small_models())
@settings(max_examples=60, deadline=None)
def test_a_plan_rounded_off_the_linear_program_breaks_no_limit(model: Model) -> None:
    relaxed = relax(model, np.arange(model.pairs), counted_kg=model.most_kg, seconds=60)
    assert relaxed is not None

    plan = round_off(model, relaxed, EFFORT)

    assert violations_of(model, plan) == []
    assert model.worth(plan) <= best_by_trying(model) + 1e-6


@pytest.mark.parametrize("seed", [1, 2])
def test_a_large_plan_in_packages_of_several_sizes_holds_is_near_its_bound_and_comes_again(seed: int) -> None:
    model = hop_market(requests=110, lots=200, suits=15, seed=seed)
    assert model.pairs > EXACT_PAIRS
    progress: list[str] = []
    effort = Effort(clock=lambda: 0.0, until=600.0, log=progress.append)

    found = solve(model, effort, arrival=range(model.requests))

    assert violations_of(model, found.mass_kg) == []
    assert (found.method, found.bound_name) == (ROUNDED, LINEAR_PROGRAM)
    assert found.gap < 0.03
    assert [words.split()[0] for words in progress] == ["solving", "rounding;", "linear"]
    again = solve(model, effort, arrival=range(model.requests))
    assert again.mass_kg.tolist() == found.mass_kg.tolist()


def test_few_lots_come_to_serve_a_request_that_the_linear_program_gives_many() -> None:
    model = hop_market(requests=150, lots=300, suits=20)
    relaxed = relax(model, np.arange(model.pairs), counted_kg=model.most_kg, seconds=60)
    assert relaxed is not None
    used = np.bincount(model.request, relaxed.parcel_kg > 1e-6)

    plan = round_off(model, relaxed, EFFORT)

    assert used.max() > model.lots_max.max() >= model.lots_used(plan).max()
    assert model.worth(plan) > 0.95 * relaxed.worth


def test_when_no_time_is_left_first_come_first_served_is_the_plan_and_says_so() -> None:
    model = hop_market(requests=400, lots=600, suits=20)
    ticks = itertools.count()

    found = solve(model, Effort(clock=lambda: 1.0 * next(ticks), until=1.0), arrival=range(model.requests))

    assert found.is_cut
    assert (found.method, found.bound_name) == (FIRST_COME, EACH_ALONE)
    assert found.mass_kg.tolist() == take_in_turn(model, range(model.requests)).tolist()
    assert 0 < found.worth < found.bound


def test_a_linear_program_that_does_not_end_in_time_is_none() -> None:
    model = hop_market(requests=400, lots=600, suits=20)

    assert relax(model, np.arange(model.pairs), counted_kg=model.most_kg, seconds=1e-6) is None


def test_gains_are_those_of_the_linear_program() -> None:
    model = a_model([30.0, 30.0], [40.0], [(0, 0, 0.9), (1, 0, 0.5)])

    found = relax(model, np.arange(2), counted_kg=model.most_kg, seconds=60)

    assert found is not None
    assert found.parcel_kg.tolist() == pytest.approx([30.0, 10.0])
    assert found.worth == pytest.approx(32.0)
    # What is given in part gains nothing beside its cost; what is given whole may.
    assert found.gain_per_kg[0] >= -1e-9
    assert found.gain_per_kg[1] == pytest.approx(0.0, abs=1e-9)


def test_nothing_to_share_is_a_plan_too() -> None:
    found = solve(a_model([10.0], [5.0], [(0, 0, 1.0)], least_kg=9), EFFORT, arrival=[0])

    assert (found.worth, found.bound, found.gap, found.is_optimal) == (0, 0, 0, True)


def a_short_crop(seed: int) -> Model:
    """Everybody wants everything, and there is too little of it."""
    chance = np.random.default_rng(seed)
    requests, lots = 70, 30
    pairs = [(r, lot, float(chance.uniform(0.6, 0.75))) for r in range(requests) for lot in range(lots)]
    return a_model(
        [float(20 + 3 * place) for place in range(requests)],
        chance.integers(20, 220, lots).astype(float).tolist(),
        pairs,
        least_kg=5.0,
        lots_max=[4] * requests,
    )


@pytest.mark.parametrize("seed", range(4))
def test_where_everything_is_short_no_plan_is_worth_less_than_first_come_first_served(seed: int) -> None:
    model = a_short_crop(seed)
    assert model.pairs > EXACT_PAIRS
    arrival = np.random.default_rng(seed).permutation(model.requests).tolist()

    found = solve(model, EFFORT, arrival=arrival)

    assert found.worth >= model.worth(take_in_turn(model, arrival))
    assert found.gap < 0.03
