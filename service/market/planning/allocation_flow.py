"""The linear program of an allocation: smallest parcels and packages left out, lots counted in shares.

A lot that gives half of what it counts as counts as half a lot; counted as what it could give, that is a relaxation,
and no plan is worth more. Counted as what it gave the last time, a lot counts as nearly one or as none, and the flow
comes to be one that few lots serve: such a plan is a good beginning.
"""

from collections.abc import Callable

import numpy as np

from service.facts import Fact
from service.market.goods.stock import to_the_gram
from service.market.planning.allocation_model import Model
from service.science.arrays import Numbers, Places

NO_HURRY = 3600.0
# The most promising pairs of each request, and those that the first flow takes anyhow.
PAIRS_KEPT = 12
# So often lots are counted anew: half of the way, in logarithms, to what they gave, and never as less than a share
# of what they could give, which shrinks from time to time.
ROUNDS, WAY, LEAST_SHARE, SHRINKS_TO = 8, 0.5, 0.1, 0.7
NOTHING_KG = 1e-6


class Flow(Fact, frozen=True, kw_only=True):
    """Masses of the pairs asked about, their worth, the prices of lots, what each pair gains beside all prices."""

    mass_kg: Numbers
    worth: float
    lot_prices: Numbers
    gain_per_kg: Numbers


def flow(
    model: Model,
    pairs: Places,
    *,
    counted_kg: Numbers | None,
    seconds: float = NO_HURRY,
    method: str = "highs-ds",
) -> Flow | None:
    """The best flow over some pairs, each lot counted as so many kilograms, or not at all; None if time is up."""
    import scipy.sparse as sparse  # noqa: PLC0415 -- slow import
    from scipy.optimize import linprog  # noqa: PLC0415 -- slow import

    requests, lots, across = len(model.need_kg), len(model.stock_kg), np.arange(len(pairs))
    of_request, of_lot = model.request[pairs], model.lot[pairs]
    covers, worth = model.covers[pairs], model.worth_per_kg[pairs]
    shape = (requests, len(pairs))
    rows = [
        sparse.csr_array((covers, (of_request, across)), shape=shape),
        sparse.csr_array((np.ones(len(pairs)), (of_lot, across)), shape=(lots, len(pairs))),
    ]
    highest = [model.need_kg, model.stock_kg]
    if counted_kg is not None:
        rows.append(sparse.csr_array((1 / counted_kg, (of_request, across)), shape=shape))
        highest.append(np.minimum(model.lots_max, model.pairs).astype(float))
    found = linprog(
        -worth,
        A_ub=sparse.vstack(rows).tocsr(),
        b_ub=np.concatenate(highest),
        bounds=np.stack([np.zeros(len(pairs)), model.most_kg[pairs]], axis=1),
        method=method,
        options={"time_limit": seconds},
    )
    if found.status != 0:
        return None
    paid = -found.ineqlin.marginals
    gain = worth - paid[:requests][of_request] * covers - paid[requests : requests + lots][of_lot]
    if counted_kg is not None:
        gain = gain - paid[requests + lots :][of_request] / counted_kg
    return Flow(
        mass_kg=np.asarray(found.x, dtype=float),
        worth=float(-found.fun),
        lot_prices=np.maximum(0.0, paid[requests : requests + lots]),
        gain_per_kg=gain,
    )


def plan_from_flow(model: Model, first: Flow, *, goes_on: Callable[[], bool] = lambda: True) -> Numbers:
    """A plan out of the first flow over all pairs: lots are counted anew until few serve each request."""
    pairs = _promising(model, first)
    given = first.mass_kg[pairs]
    counted, share = model.most_kg[pairs].copy(), LEAST_SHARE
    for _ in range(ROUNDS):
        found = flow(model, pairs, counted_kg=counted) if goes_on() else None
        if found is None:
            break
        given = found.mass_kg
        aim = np.maximum(given, share * model.most_kg[pairs])
        counted = np.exp((1 - WAY) * np.log(counted) + WAY * np.log(aim))
        share *= SHRINKS_TO
    few = pairs[(_rank(model, pairs, given) < model.lots_max[model.request[pairs]]) & (given > NOTHING_KG)]
    mass_kg: Numbers = np.zeros(model.pairs)
    last = flow(model, few, counted_kg=None) if len(few) else None
    if last is None:
        return mass_kg
    step = model.step_kg[model.lot[few]]
    whole = np.floor(last.mass_kg / np.where(step > 0, step, 1.0) + 1e-9) * step
    took = to_the_gram(np.where(step > 0, whole, last.mass_kg))
    mass_kg[few] = np.where(took >= model.least_kg[few] - 1e-9, took, 0.0)
    return mass_kg


def _promising(model: Model, first: Flow) -> Places:
    every = np.arange(model.pairs)
    promise = np.where(first.mass_kg > NOTHING_KG, np.inf, first.gain_per_kg * model.most_kg)
    return np.flatnonzero(_rank(model, every, promise) < PAIRS_KEPT)


def _rank(model: Model, pairs: Places, value: Numbers) -> Places:
    """Where each pair stands among those of its request, the largest value first."""
    request = model.request[pairs]
    order = np.lexsort((-value, request))
    begins = np.searchsorted(request[order], np.arange(len(model.need_kg)))
    rank: Places = np.empty(len(pairs), dtype=np.int64)
    rank[order] = np.arange(len(pairs)) - begins[request[order]]
    return rank
