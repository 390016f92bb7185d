"""The plan of the largest value and its proof."""

import itertools

import pytest
from hypothesis import given, settings

from service.market.allocation_model import Model, faults_of
from service.market.allocation_solving import EXACT_PAIRS, Effort, solve
from tests.benchmarks.hop_market import hop_market
from tests.market.allocation_cases import a_model, best_by_trying, small_models


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
