"""The plan of the largest worth, with what no plan exceeds: an integer program where it is small, else a linear one.

The linear program leaves out smallest parcels and packages, and counts a lot that gives half of what it could as half
a lot. No plan is worth more, so its value is the bound. To come from it to a plan, lots are counted anew by what they
gave: those that gave much come to count as one lot, the others drop out. What remains is rounded to whole packages.
"""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from service.facts import Fact
from service.market.goods.stock import to_the_gram
from service.market.planning.first_come import exchange_in_turn, pack_in_turn, take_in_turn
from service.market.planning.model import LAST_DIGIT, Model, in_packages, in_steps, violations_of
from service.science.arrays import Numbers, Places

# Up to so many pairs the integer program is tried, for this share of the time and no longer than that: up to 450 pairs
# were solved in 5 s, and larger programs came no further in 10 s.
EXACT_PAIRS, EXACT_SHARE, EXACT_SECONDS = 1000, 0.5, 8.0
# The most promising pairs of each request, and how many of them are left in the last round.
PAIRS_FIRST, PAIRS_LAST = 8, 4
# So often lots are counted anew: so far of the way, in logarithms, to what they gave, but never as less than a share
# of what they could give; that share shrinks from round to round.
ROUNDS, WAY, LEAST_SHARE, SHRINKS_TO = 12, 0.3, 0.1, 0.75
# Exchanges end when one gains less than this share.
EXCHANGES, EXCHANGE_GAIN = 3, 2e-4
NOTHING_KG = 1e-6
# The whole program is solved fastest by interior points, the smaller ones after it by the dual simplex.
FIRST_METHOD, NEXT_METHOD = "highs-ipm", "highs-ds"
OPTIMAL = 0

INTEGER_PROGRAM = "the integer program"
LINEAR_PROGRAM = "the linear program, in which parcels and packages can be split"
EACH_ALONE = "each request served in full by the lot that suits it best"
SOLVED = "integer program, solved to the end"
STOPPED = "integer program, as far as it was solved in the time"
ROUNDED = "linear program, rounded to whole packages and weighing steps"
FIRST_COME = "first come, first served"


class Solution(Fact, frozen=True, kw_only=True):
    """A plan, what no plan exceeds and why, and how it was found; `is_cut` where the time ended the work."""

    mass_kg: Numbers
    worth: float
    bound: float
    bound_name: str
    is_optimal: bool
    is_cut: bool
    method: str
    seconds: float

    @property
    def gap(self) -> float:
        """(bound - worth) / bound."""
        return max(0.0, self.bound - self.worth) / self.bound if self.bound > 0 else 0.0


class Effort(Fact, frozen=True, kw_only=True):
    """How long to try: `clock` reads the seconds since any beginning, `until` is the end; `log` hears the progress."""

    clock: Callable[[], float]
    until: float
    log: Callable[[str], None] = lambda words: None

    def left(self) -> float:
        """The seconds that are left."""
        return max(0.0, self.until - self.clock())


class Relaxation(Fact, frozen=True, kw_only=True):
    """A solved linear program: the parcels, their worth, and what each pair gains a kilogram after the shadow prices."""

    parcel_kg: Numbers
    worth: float
    gain_per_kg: Numbers


def solve(model: Model, effort: Effort, *, arrival: Sequence[int]) -> Solution:
    """Find a plan of large worth and a bound on every plan.

    No plan is worth less than what requests take one after another in the order of `arrival`.
    """
    began = effort.clock()
    found, bounds, is_optimal = [], [], False
    if model.pairs <= EXACT_PAIRS and effort.left() > 0:
        effort.log(f"solving the integer program of {model.pairs} pairs of request and lot")
        exact = solve_exactly(model, seconds=min(effort.left() * EXACT_SHARE, EXACT_SECONDS))
        is_optimal = exact.is_optimal
        found.append((exact.mass_kg, SOLVED if is_optimal else STOPPED))
        bounds.append((exact.bound, INTEGER_PROGRAM))
    if not is_optimal:
        effort.log(f"solving the linear program of {model.pairs} pairs of request and lot")
        every = np.arange(model.pairs)
        relaxed = relax(model, every, counted_kg=model.most_kg, seconds=effort.left(), method=FIRST_METHOD)
        if relaxed is not None:
            bounds.append((relaxed.worth, LINEAR_PROGRAM))
            effort.log(f"rounding; no plan is worth more than {relaxed.worth:.0f}")
            found.append((round_off(model, relaxed, effort), ROUNDED))
    is_cut = not is_optimal and effort.left() <= 0
    found.append((take_in_turn(model, arrival), FIRST_COME))
    bounds.append((worth_of_each_alone(model), EACH_ALONE))
    mass_kg, method = max(found, key=lambda one: model.worth(one[0]))
    if not is_optimal:
        mass_kg = _exchanged(model, mass_kg, arrival, effort)
    violations = violations_of(model, mass_kg)
    if violations:
        raise AssertionError(f"the plan breaks limits: {'; '.join(violations[:3])}")
    worth = model.worth(mass_kg)
    bound, name = min(bounds, key=lambda one: one[0])
    solution = Solution(
        mass_kg=mass_kg,
        worth=worth,
        bound=max(bound, worth),
        bound_name=name,
        is_optimal=is_optimal,
        is_cut=is_cut,
        method=method,
        seconds=effort.clock() - began,
    )
    effort.log(f"{method}: worth {worth:.0f}, {100 * solution.gap:.2f} % under the bound")
    return solution


def bound_of(model: Model, *, seconds: float) -> tuple[float, str]:
    """What no plan exceeds, and its name."""
    every = np.arange(model.pairs)
    relaxed = relax(model, every, counted_kg=model.most_kg, seconds=seconds, method=FIRST_METHOD)
    alone = (worth_of_each_alone(model), EACH_ALONE)
    return alone if relaxed is None else min(alone, (relaxed.worth, LINEAR_PROGRAM))


def worth_of_each_alone(model: Model) -> float:
    """What all requests together would have if each were served in full by the lot that suits it best."""
    best: Numbers = np.zeros(model.requests)
    np.maximum.at(best, model.request, model.worth_per_kg / model.covers)
    return float(best @ model.need_kg)


def relax(
    model: Model,
    pairs: Places,
    *,
    counted_kg: Numbers | None,
    seconds: float,
    method: str = NEXT_METHOD,
) -> Relaxation | None:
    """The linear program over some pairs, each lot counted as so many kilograms, or not at all; None if time is up."""
    import scipy.sparse as sparse  # noqa: PLC0415 -- slow import
    from scipy.optimize import linprog  # noqa: PLC0415 -- slow import

    if len(pairs) == 0:
        return Relaxation(parcel_kg=np.zeros(0), worth=0.0, gain_per_kg=np.zeros(0))
    if seconds <= 0:
        return None
    request, lot = model.request[pairs], model.lot[pairs]
    covers, worth = model.covers[pairs], model.worth_per_kg[pairs]
    lot_kg = model.lot_kg
    rows = [
        row_sums(covers, request, model.requests),
        row_sums(np.ones(len(pairs)), lot, len(lot_kg)),
    ]
    highest = [model.need_kg, lot_kg]
    if counted_kg is not None:
        rows.append(row_sums(1 / counted_kg, request, model.requests))
        highest.append(np.minimum(model.lots_max, len(pairs)).astype(float))
    found = linprog(
        -worth,
        A_ub=sparse.vstack(rows).tocsr(),
        b_ub=np.concatenate(highest),
        bounds=np.stack([np.zeros(len(pairs)), model.most_kg[pairs]], axis=1),
        method=method,
        options={"time_limit": seconds},
    )
    if found.status != OPTIMAL:
        return None
    prices = -np.asarray(found.ineqlin.marginals, dtype=float)
    of_need, of_lot, of_count = np.split(prices, [model.requests, model.requests + len(lot_kg)])
    gain = worth - of_need[request] * covers - of_lot[lot]
    if counted_kg is not None:
        gain = gain - of_count[request] / counted_kg
    return Relaxation(parcel_kg=np.asarray(found.x, dtype=float), worth=float(-found.fun), gain_per_kg=gain)


def row_sums(values: Numbers, rows: Places, how_many: int) -> Any:
    """The matrix whose rows sum the values of columns."""
    import scipy.sparse as sparse  # noqa: PLC0415 -- slow import

    return sparse.csr_array((values, (rows, np.arange(len(values)))), shape=(how_many, len(values)))


def round_off(model: Model, relaxed: Relaxation, effort: Effort) -> Numbers:
    """A plan out of the linear program: few lots for each request, then whole packages and smallest parcels."""
    pairs, parcel_kg = _few_lots(model, relaxed, effort)
    last = relax(model, pairs, counted_kg=None, seconds=effort.left())
    parcels = np.zeros(model.pairs)
    parcels[pairs] = parcel_kg if last is None else last.parcel_kg
    return pack_in_turn(model, parcels)


def _few_lots(model: Model, relaxed: Relaxation, effort: Effort) -> tuple[Places, Numbers]:
    """The pairs that stay when lots are counted by what they give, at most `lots_max` of a request."""
    pairs, given, gain = np.arange(model.pairs), relaxed.parcel_kg, relaxed.gain_per_kg
    counted, share = model.most_kg, LEAST_SHARE
    for kept in np.linspace(PAIRS_FIRST, PAIRS_LAST, ROUNDS):
        # Every pair that gives something stays, and of the others those that come nearest to it.
        takes = given > NOTHING_KG
        promise = np.where(takes, np.inf, gain * model.most_kg[pairs])
        stays = takes | (_rank(model, pairs, promise) < kept)
        pairs, given, counted = pairs[stays], given[stays], counted[stays]
        found = relax(model, pairs, counted_kg=counted, seconds=effort.left())
        if found is None:
            break
        given, gain = found.parcel_kg, found.gain_per_kg
        aim = np.maximum(given, share * model.most_kg[pairs])
        counted = counted ** (1 - WAY) * aim**WAY
        share *= SHRINKS_TO
    few = (_rank(model, pairs, given) < model.lots_max[model.request[pairs]]) & (given > NOTHING_KG)
    return pairs[few], given[few]


def _rank(model: Model, pairs: Places, value: Numbers) -> Places:
    """Where each pair stands among those of its request, the largest value first."""
    request = model.request[pairs]
    order = np.lexsort((-value, request))
    begins = np.searchsorted(request[order], np.arange(model.requests))
    rank: Places = np.empty(len(pairs), dtype=np.int64)
    rank[order] = np.arange(len(pairs)) - begins[request[order]]
    return rank


def _exchanged(model: Model, mass_kg: Numbers, arrival: Sequence[int], effort: Effort) -> Numbers:
    """The plan after requests exchanged their parcels for better ones that are left, as long as that gains."""
    for _ in range(EXCHANGES):
        worth = model.worth(mass_kg)
        if effort.left() <= 0:
            break
        mass_kg = exchange_in_turn(model, mass_kg, arrival)
        if model.worth(mass_kg) <= worth * (1 + EXCHANGE_GAIN):
            break
    return mass_kg


class Exact(Fact, frozen=True, kw_only=True):
    """What the integer program found, what no plan exceeds, and whether it was solved to the end."""

    mass_kg: Numbers
    bound: float
    is_optimal: bool


def solve_exactly(model: Model, *, seconds: float) -> Exact:
    """The integer program: each part has its mass or its number of packages, each pair a yes or no."""
    import scipy.sparse as sparse  # noqa: PLC0415 -- slow import
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 -- slow import

    if model.pairs == 0:
        return Exact(mass_kg=model.nothing, bound=0.0, is_optimal=True)
    size = model.size_kg[model.goods]
    unit = np.where(size > 0, size, 1.0)
    most = np.minimum(model.stock_kg[model.goods], model.most_kg[model.pair])
    most = np.where(size > 0, np.rint(in_packages(most, size) / unit), most)
    parts, yes = len(unit), np.arange(model.pairs)
    parcels = row_sums(unit, model.pair, model.pairs)
    rows = sparse.block_array(
        [
            [row_sums(unit * model.covers[model.pair], model.request[model.pair], model.requests), None],
            [row_sums(unit, model.goods, len(model.stock_kg)), None],
            [None, row_sums(np.ones(model.pairs), model.request, model.requests)],
            [parcels, sparse.csr_array((-model.most_kg, (yes, yes)))],
            [-parcels, sparse.csr_array((model.least_kg, (yes, yes)))],
        ],
        format="csc",
    )
    lots_max = np.minimum(model.lots_max, model.pairs).astype(float)
    highest = np.concatenate([model.need_kg, model.stock_kg, lots_max, np.zeros(2 * model.pairs)])
    found = milp(
        np.concatenate([-model.worth_per_kg[model.pair] * unit, np.zeros(model.pairs)]),
        constraints=LinearConstraint(rows, -np.inf, highest),
        bounds=Bounds(0, np.concatenate([most, np.ones(model.pairs)])),
        integrality=np.concatenate([(size > 0).astype(int), np.ones(model.pairs)]),
        options={"time_limit": seconds, "mip_rel_gap": 0.0},
    )
    bound = np.inf if found.mip_dual_bound is None else -float(found.mip_dual_bound)
    if found.x is None:
        return Exact(mass_kg=model.nothing, bound=bound, is_optimal=False)
    least, highest_kg = model.least_kg[model.pair], model.most_kg[model.pair]
    weighed = in_steps(to_the_gram(found.x[:parts]), least_kg=least, most_kg=highest_kg)
    mass = np.where(size > 0, np.rint(found.x[:parts]) * unit, weighed)
    enough = (found.x[parts:] > 0.5) & (model.parcels_kg(mass) >= model.least_kg - LAST_DIGIT)
    return Exact(
        mass_kg=np.where(enough[model.pair], mass, 0.0), bound=bound, is_optimal=found.status == OPTIMAL
    )
