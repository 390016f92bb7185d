"""The plan of the largest value, with its proof: exactly where it is small, else by prices, start and search."""

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from service.facts import Fact
from service.market.planning.allocation_bounds import (
    Bound,
    better_prices,
    first_flow,
    flow_bound,
    for_sizes,
)
from service.market.planning.allocation_exact import solve_pairs
from service.market.planning.allocation_flow import NO_HURRY, plan_from_flow
from service.market.planning.allocation_model import Model, faults_of, grid_of, without_sizes
from service.market.planning.allocation_search import Search
from service.market.planning.allocation_start import take_in_turn
from service.science.arrays import Numbers

# Up to so many pairs the whole program is tried first.
EXACT_PAIRS = 1500
# Of the time there is: for the exact program, for the prices.
EXACT_SHARE, PRICES_SHARE = 0.5, 0.25
# The parts of the lot prices at which plans are begun; the best beginning is gone on with.
PARTS_OF_PRICES = (1.0, 0.999, 0.97, 0.8, 0.0)
# A plan this near to the bound is the best but for grams.
OPTIMAL_GAP = 1e-6
EXACT = "the mixed-integer program, solved to the end"
EXACT_STOPPED = "the mixed-integer program, as far as it was solved"


class Solution(Fact, frozen=True, kw_only=True):
    """A plan, what no plan exceeds and why, and how it was found."""

    mass_kg: Numbers
    worth: float
    bound: float
    bound_name: str
    is_optimal: bool
    method: str
    rounds: int
    seconds: float

    @property
    def gap(self) -> float:
        """(bound - worth) / bound."""
        return max(0.0, self.bound - self.worth) / self.bound if self.bound > 0 else 0.0


class Effort(Fact, frozen=True, kw_only=True):
    """How long to try. `clock` tells the seconds since the beginning of all work, `until` when this part must end.

    With `rounds` the same model gives the same plan again, and the clock only stops what would never end.
    """

    clock: Callable[[], float]
    until: float
    rounds: int | None = None
    seed: int = 0
    price_rounds: int = 600
    tell: Callable[[str], None] = lambda words: None
    gap_wanted: float = 1e-4

    def left(self) -> float:
        """The seconds that are left."""
        return self.until - self.clock()


def solve(model: Model, effort: Effort, *, arrival: Sequence[int] = ()) -> Solution:
    """Find a plan of large worth and prove how near to the largest it is.

    A large plan is never worth less than what requests take one after another in order of `arrival`.
    """
    began = effort.clock()
    bounds: list[tuple[float, str]] = []
    best: Numbers = np.zeros(model.pairs)
    if model.pairs <= EXACT_PAIRS:
        effort.tell(f"solving the whole program of {model.pairs} pairs")
        share = 600.0 if effort.rounds is not None else effort.left() * EXACT_SHARE
        nodes = 20_000 if effort.rounds is not None else None
        free = model.stock_kg
        whole = solve_pairs(model, np.arange(model.pairs), free_kg=free, seconds=max(0.1, share), nodes=nodes)
        if whole is not None:
            best = whole.mass_kg
            bounds.append((max(whole.bound, model.worth(best)), EXACT if whole.is_optimal else EXACT_STOPPED))
            if whole.is_optimal:
                return _told(model, best, bounds, EXACT, 0, effort.clock() - began, is_optimal=True)
    return _by_prices(model, best, bounds, effort, began, arrival)


def _by_prices(
    model: Model,
    best: Numbers,
    bounds: list[tuple[float, str]],
    effort: Effort,
    began: float,
    arrival: Sequence[int],
) -> Solution:
    loose = without_sizes(model)
    grid = grid_of(loose)
    effort.tell(f"finding prices for {len(model.stock_kg)} lots")
    repeatable = effort.rounds is not None
    hurry = NO_HURRY if repeatable else max(0.1, effort.left() * PRICES_SHARE)
    first = first_flow(loose, seconds=hurry)
    bound = flow_bound(loose, grid, first)
    end = effort.clock() + effort.left() * PRICES_SHARE
    bound = better_prices(
        loose, grid, bound, rounds=effort.price_rounds, goes_on=lambda: repeatable or effort.clock() < end
    )
    bounds.append((bound.worth, bound.name))
    bound = for_sizes(model, bound)
    effort.tell("beginning plans")
    best = max(best, *_starts(model, bound, arrival), key=model.worth)
    if first is not None and not model.has_sizes:
        begins = plan_from_flow(model, first, goes_on=lambda: repeatable or effort.left() > 0)
        best = max(best, begins, key=model.worth)
    lowest = min(worth for worth, _ in bounds)

    def goes_on(worth: float, done: int) -> bool:
        gap = (lowest - worth) / lowest if lowest > 0 else 0.0
        if done % 5 == 0:
            effort.tell(f"searching: {100 * gap:.2f} % under the bound after {done} rounds")
        return gap > effort.gap_wanted and (repeatable or effort.left() > 0)

    search = Search(model=model, bound=bound, mass_kg=best, chance=np.random.default_rng(effort.seed))
    rounds = search.better(rounds=effort.rounds, goes_on=goes_on, seconds_left=effort.left)
    method = "lot prices, one request after another at them, then blocks of requests solved anew"
    return _told(model, search.mass_kg, bounds, method, rounds, effort.clock() - began, is_optimal=False)


def _starts(model: Model, bound: Bound, arrival: Sequence[int]) -> Iterator[Numbers]:
    """Plans in which one request after another takes its best parcels, at the prices or at part of them.

    Where everything is short, the prices of the bound eat the whole gain, and at them nobody would take anything.
    """
    order = np.argsort(-bound.gains, kind="stable").tolist()
    for part in PARTS_OF_PRICES:
        yield take_in_turn(model, order, prices=part * bound.prices)
    if len(arrival):
        yield take_in_turn(model, arrival)


def _told(
    model: Model,
    mass_kg: Numbers,
    bounds: list[tuple[float, str]],
    method: str,
    rounds: int,
    seconds: float,
    *,
    is_optimal: bool,
) -> Solution:
    faults = faults_of(model, mass_kg)
    if faults:
        raise AssertionError(f"the plan does not hold: {'; '.join(faults[:3])}")
    worth = model.worth(mass_kg)
    bound, name = min(bounds)
    return Solution(
        mass_kg=mass_kg,
        worth=worth,
        bound=max(bound, worth),
        bound_name=name,
        is_optimal=is_optimal or bound - worth <= OPTIMAL_GAP * max(bound, 1e-9),
        method=method,
        rounds=rounds,
        seconds=seconds,
    )
