"""What no plan can exceed: prices on the lots, and the best bundle of lots for each request at these prices.

Whatever the prices, no plan is worth more than the stock at its prices plus, for each request, the best bundle it
could choose if every lot cost its price and nobody else were there (Lagrange's bound). The prices begin as those of
the flow (smallest parcels left out, the number of lots counted in shares) and then follow what is over- and
under-asked (subgradient).
"""

import itertools
from collections.abc import Callable
from functools import cache

import numpy as np

from service.facts import Fact, replace
from service.market.planning.allocation_flow import NO_HURRY, Flow, flow
from service.market.planning.allocation_model import Grid, Model
from service.science.arrays import Numbers, Places

# Bundles of up to so many lots are tried one by one, out of at most so many lots that could be in the best.
TRIED_LOTS, TRIED_OUT_OF = 3, 14
HALVINGS = 24
STALLS = 6
FIRST_STEP, LAST_STEP = 2e-3, 2e-6

FLOW = "flow with lots counted in shares"
BUNDLES = "whole bundles of lots for each request at lot prices (Lagrange)"


class Bound(Fact, frozen=True, kw_only=True):
    """What no plan exceeds, its name, the lot prices that prove it, and what each request's best bundle gains."""

    worth: float
    name: str
    prices: Numbers
    gains: Numbers


def flow_bound(model: Model, grid: Grid, first: Flow | None) -> Bound:
    """What the first flow over all pairs proves; its lot prices are the beginning, or nothing where there is none."""
    lots = len(model.stock_kg)
    if model.pairs == 0:
        return Bound(worth=0.0, name=FLOW, prices=np.zeros(lots), gains=np.zeros(len(model.need_kg)))
    if first is None:
        return _at_prices(model, grid, np.zeros(lots))
    # Whatever prices the solver tells, the bound made of them holds.
    at_prices = _at_prices(model, grid, first.lot_prices)
    if at_prices.worth <= first.worth:
        return at_prices
    return Bound(worth=first.worth, name=FLOW, prices=first.lot_prices, gains=at_prices.gains)


def first_flow(model: Model, *, seconds: float = NO_HURRY) -> Flow | None:
    """The flow over all pairs that bounds every plan; None if it does not end in time."""
    if model.pairs == 0:
        return None
    every = np.arange(model.pairs)
    return flow(model, every, counted_kg=model.most_kg, seconds=seconds, method="highs-ipm")


def for_sizes(model: Model, bound: Bound) -> Bound:
    """A bound that was found without sizes, with a price for each size: that of its lot."""
    if not model.has_sizes:
        return bound
    return replace(bound, prices=bound.prices[np.unique(model.whole, return_inverse=True)[1]])


def _at_prices(model: Model, grid: Grid, prices: Numbers) -> Bound:
    gains, _ = best_bundles(model, grid, prices)
    return Bound(worth=float(gains.sum() + prices @ model.stock_kg), name=BUNDLES, prices=prices, gains=gains)


def better_prices(
    model: Model, grid: Grid, begin: Bound, *, rounds: int, goes_on: Callable[[], bool] = lambda: True
) -> Bound:
    """Let the prices follow what is asked, and keep those with the lowest bound."""
    best, prices, step, stalled = begin, begin.prices, FIRST_STEP, 0
    before: Numbers = np.zeros(len(prices))
    for _ in range(rounds):
        gains, asked = best_bundles(model, grid, prices)
        worth = float(gains.sum() + prices @ model.stock_kg)
        if worth < best.worth:
            stalled = 0 if worth < best.worth * (1 - 1e-6) else stalled + 1
            best = Bound(worth=worth, name=BUNDLES, prices=prices, gains=gains)
        else:
            stalled += 1
        over = asked - model.stock_kg
        over = np.where((prices <= 0) & (over < 0), 0.0, over)
        length = float(over @ over)
        if length <= 0 or step < LAST_STEP or not goes_on():
            break
        if stalled >= STALLS:
            step, stalled, prices = step / 2, 0, best.prices
            before = np.zeros(len(prices))
            continue
        along = over + 0.5 * before
        before = along
        prices = np.maximum(0.0, prices + step * worth / length * along)
    return best


def best_bundles(model: Model, grid: Grid, prices: Numbers) -> tuple[Numbers, Numbers]:
    """What each request gains by its best bundle at these prices (or a little more), and what is asked of each lot.

    Smallest parcels and packages are left out, which only raises the gain. Requests of up to three lots try every
    bundle that can be best; the others count lots in shares of what each can give.
    """
    gain_per_kg = np.where(grid.is_pair, (grid.worth - prices[grid.lot]) / grid.covers, 0.0)
    gain_per_kg = np.maximum(gain_per_kg, 0.0)
    most = np.where(gain_per_kg > 0, grid.most, 0.0)
    gains: Numbers = np.zeros(len(model.need_kg))
    given: Numbers = np.zeros(grid.pair.shape)
    left = np.ones(len(model.need_kg), dtype=np.bool_)
    for lots in range(1, TRIED_LOTS + 1):
        rows = np.flatnonzero(model.lots_max == lots)
        if len(rows):
            tried = _try_bundles(gain_per_kg[rows], most[rows], model.need_kg[rows], lots)
            done = rows[tried[0]]
            left[done] = False
            gains[done], given[done] = tried[1], tried[2]
    rows = np.flatnonzero(left)
    if len(rows):
        gains[rows], given[rows] = _in_shares(
            gain_per_kg[rows], most[rows], model.need_kg[rows], model.lots_max[rows]
        )
    asked = np.bincount(grid.lot.ravel(), (given / grid.covers).ravel(), len(model.stock_kg))
    return gains, asked.astype(float)


def _try_bundles(
    gain_per_kg: Numbers, most: Numbers, need_kg: Numbers, lots: int
) -> tuple[Places, Numbers, Numbers]:
    """Every bundle of so many lots; the places of the lines that were short enough, their gains, what is given.

    A lot can be left out when as many others gain as much a kilogram and can give as much.
    """
    order = np.argsort(-gain_per_kg, axis=1, kind="stable")
    by_gain, by_most = np.take_along_axis(gain_per_kg, order, 1), np.take_along_axis(most, order, 1)
    earlier = np.tri(order.shape[1], k=-1, dtype=np.bool_)
    beaten = ((by_most[:, None, :] >= by_most[:, :, None]) & earlier).sum(axis=2)
    can_be_best = (beaten < lots) & (by_most > 0)
    done = np.flatnonzero(can_be_best.sum(axis=1) <= TRIED_OUT_OF)
    first = np.argsort(~can_be_best[done], axis=1, kind="stable")[:, :TRIED_OUT_OF]
    place = np.take_along_axis(order[done], first, 1)
    kept = np.take_along_axis(can_be_best[done], first, 1)
    gain = np.where(kept, np.take_along_axis(by_gain[done], first, 1), 0.0)
    can_give = np.where(kept, np.take_along_axis(by_most[done], first, 1), 0.0)
    bundles = _bundles(first.shape[1], min(lots, first.shape[1]))
    rest = np.repeat(need_kg[done][:, None], len(bundles), axis=1)
    worth: Numbers = np.zeros(rest.shape)
    parts = []
    for member in bundles.T:
        part = np.minimum(can_give[:, member], rest)
        rest = rest - part
        worth = worth + part * gain[:, member]
        parts.append(part)
    best = worth.argmax(axis=1)
    lines = np.arange(len(done))
    given: Numbers = np.zeros((len(done), gain_per_kg.shape[1]))
    for member, part in zip(bundles.T, parts, strict=True):
        where = place[lines, member[best]]
        given[lines, where] = np.maximum(given[lines, where], part[lines, best])
    return done, worth[lines, best], given


@cache
def _bundles(out_of: int, lots: int) -> Places:
    return np.array(list(itertools.combinations(range(out_of), lots)), dtype=np.int64)


def _in_shares(
    gain_per_kg: Numbers, most: Numbers, need_kg: Numbers, lots_max: Places
) -> tuple[Numbers, Numbers]:
    """The best mix when half of what a lot can give counts as half a lot; a price on the count is searched for."""
    counted = np.minimum(lots_max, most.shape[1]).astype(float)
    share = np.where(most > 0, 1 / np.where(most > 0, most, 1.0), 0.0)
    low: Numbers = np.zeros(len(need_kg))
    gains, given = _filled(gain_per_kg, most, need_kg, counted, share, low)
    rows = np.flatnonzero((given * share).sum(axis=1) > counted + 1e-9)
    if len(rows) == 0:
        return gains, given
    own = (gain_per_kg[rows], most[rows], need_kg[rows], counted[rows], share[rows])
    low, high = low[rows], (gain_per_kg[rows] * most[rows]).max(axis=1)
    for _ in range(HALVINGS):
        price = (low + high) / 2
        new, new_given = _filled(*own, price)
        over = (new_given * own[4]).sum(axis=1) > own[3]
        low, high = np.where(over, price, low), np.where(over, high, price)
        better = np.flatnonzero(new < gains[rows])
        gains[rows[better]], given[rows[better]] = new[better], new_given[better]
    return gains, given


def _filled(
    gain_per_kg: Numbers, most: Numbers, need_kg: Numbers, counted: Numbers, share: Numbers, price: Numbers
) -> tuple[Numbers, Numbers]:
    reduced = np.where(most > 0, gain_per_kg - price[:, None] * share, 0.0)
    order = np.argsort(-reduced, axis=1, kind="stable")
    can_give = np.take_along_axis(np.where(reduced > 0, most, 0.0), order, 1)
    before = np.cumsum(can_give, axis=1) - can_give
    part = np.clip(need_kg[:, None] - before, 0.0, can_give)
    given: Numbers = np.zeros(part.shape)
    np.put_along_axis(given, order, part, 1)
    return (reduced * given).sum(axis=1) + price * counted, given
