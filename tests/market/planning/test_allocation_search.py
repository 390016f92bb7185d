"""The search for a better plan."""

import numpy as np

from service.market.planning.allocation_bounds import Bound, better_prices, first_flow, flow_bound
from service.market.planning.allocation_model import Model, faults_of, grid_of
from service.market.planning.allocation_search import Search
from service.market.planning.allocation_start import take_in_turn
from tests.benchmarks.hop_market import hop_market


def bounded(model: Model) -> Bound:
    grid = grid_of(model)
    return better_prices(model, grid, flow_bound(model, grid, first_flow(model)), rounds=100)


def searched(model: Model, bound: Bound, begin: "np.ndarray", *, seed: int = 0) -> Search:
    search = Search(
        model=model, bound=bound, mass_kg=begin.copy(), chance=np.random.default_rng(seed), in_block=15
    )
    search.better(rounds=12, goes_on=lambda worth, done: True, seconds_left=lambda: 60.0)
    return search


def test_search_raises_the_worth_and_the_same_seed_finds_the_same_plan_again() -> None:
    model = hop_market(requests=80, lots=150, suits=12)
    bound = bounded(model)
    begin = take_in_turn(model, range(80))

    found = searched(model, bound, begin)

    assert faults_of(model, found.mass_kg) == []
    assert model.worth(begin) < model.worth(found.mass_kg) <= bound.worth
    assert searched(model, bound, begin).mass_kg.tolist() == found.mass_kg.tolist()


def test_search_stops_when_it_shall_not_go_on() -> None:
    model = hop_market(requests=20, lots=40, suits=6)
    search = Search(
        model=model,
        bound=bounded(model),
        mass_kg=np.zeros(model.pairs),
        chance=np.random.default_rng(0),
    )

    rounds = search.better(rounds=None, goes_on=lambda worth, done: done < 3, seconds_left=lambda: 5.0)

    assert rounds == 3
