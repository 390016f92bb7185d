"""The plan of the largest value and its proof."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings

from service.market.planning.allocation_model import Model, faults_of
from service.market.planning.allocation_solving import EXACT_PAIRS, Effort, solve
from service.market.planning.allocation_start import take_in_turn
from tests.benchmarks.hop_market import hop_market
from tests.market.planning.allocation_cases import a_model, best_by_trying, small_models


def effort(rounds: int | None = 5, *, until: float = 600.0, step: float = 0.0) -> Effort:
    ticks = itertools.count()
    return Effort(clock=lambda: step * next(ticks), until=until, rounds=rounds, price_rounds=60)


@given(model=small_models())
@settings(max_examples=25, deadline=None)
def test_a_small_plan_is_proven_optimal_and_is_what_trying_every_plan_finds(model: Model) -> None:
    found = solve(model, effort())

    assert found.is_optimal
    assert found.worth == pytest.approx(best_by_trying(model), abs=1e-6)
    assert found.gap == pytest.approx(0, abs=1e-5)


def test_a_large_plan_holds_is_near_its_bound_and_comes_again() -> None:
    model = hop_market(requests=110, lots=200, suits=15)
    assert model.pairs > EXACT_PAIRS
    told: list[str] = []

    found = solve(model, Effort(clock=lambda: 0.0, until=600.0, rounds=4, price_rounds=60, tell=told.append))

    assert faults_of(model, found.mass_kg) == []
    assert found.worth <= found.bound
    assert found.gap < 0.08
    assert found.bound_name.startswith("whole bundles")
    assert any("searching" in words for words in told)
    assert solve(model, effort(4)).mass_kg.tolist() == found.mass_kg.tolist()


def test_the_clock_ends_a_search_without_rounds() -> None:
    found = solve(hop_market(requests=120, lots=200, suits=15), effort(None, until=1.0, step=0.05))

    assert 0 < found.rounds < 40
    assert found.worth > 0


def test_nothing_to_share_is_a_plan_too() -> None:
    found = solve(a_model([10.0], [5.0], [(0, 0, 1.0)], least_kg=9), effort())

    assert (found.worth, found.bound, found.gap, found.is_optimal) == (0, 0, 0, True)


def a_short_crop(seed: int) -> Model:
    """Everybody wants everything, and there is too little of it: the prices of the bound eat the whole gain."""
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
    arrival = np.random.default_rng(seed).permutation(len(model.need_kg)).tolist()

    found = solve(model, effort(1), arrival=arrival)

    assert found.worth >= model.worth(take_in_turn(model, arrival))
    assert found.gap < 0.03
