"""One request after another takes its best parcels of what is left, at prices or at none.

At the prices that prove the bound, requests ask for little that others need more; at no prices and in order of
arrival it is first come, first served.
"""

import itertools
from collections.abc import Sequence
from functools import cache

import numpy as np

from service.market.goods.stock import to_the_gram
from service.market.planning.allocation_model import Model
from service.science.arrays import Numbers, Places

# Up to so many lots together every choice is tried, out of the most promising; more are added one by one.
TRIED_LOTS, TRIED_OUT_OF = 3, 12


def take_in_turn(model: Model, order: Sequence[int], *, prices: Numbers | None = None) -> Numbers:
    """A plan in which requests take in this order; only what gains over its price is taken."""
    cost = np.zeros(len(model.stock_kg)) if prices is None else prices
    gain_per_kg = model.worth_per_kg - cost[model.lot]
    begins = np.searchsorted(model.request, np.arange(len(model.need_kg) + 1))
    left_kg = model.stock_kg.copy()
    mass_kg: Numbers = np.zeros(model.pairs)
    for request in order:
        pairs = np.arange(begins[request], begins[request + 1])
        took = best_parcels(model, pairs, gain_per_kg=gain_per_kg[pairs], left_kg=left_kg)
        mass_kg[pairs] = took
        left_kg[model.lot[pairs]] -= took
    return mass_kg


def best_parcels(model: Model, pairs: Places, *, gain_per_kg: Numbers, left_kg: Numbers) -> Numbers:
    """The parcels that gain one request most, of what is left.

    Exact for up to three lots in any mass out of a dozen; with whole packages or more lots a good choice.
    """
    mass_kg: Numbers = np.zeros(len(pairs))
    if len(pairs) == 0:
        return mass_kg
    request = int(model.request[pairs[0]])
    step = model.step_kg[model.lot[pairs]]
    most = np.minimum(model.most_kg[pairs], left_kg[model.lot[pairs]])
    most = np.where(step > 0, np.floor(most / np.where(step > 0, step, 1.0) + 1e-9) * step, to_the_gram(most))
    # Each size of a lot is taken for a lot of its own here, in whole packages: that is allowed, if not always best.
    least, covers = model.least_kg[pairs], model.covers[pairs]
    least = np.where(step > 0, np.ceil(least / np.where(step > 0, step, 1.0) - 1e-9) * step, least)
    may = np.flatnonzero((most >= least - 1e-9) & (gain_per_kg > 0))
    if len(may) == 0:
        return mass_kg
    lots = int(min(model.lots_max[request], len(may)))
    if lots <= TRIED_LOTS:
        may = may[np.argsort(-(gain_per_kg * most)[may], kind="stable")[:TRIED_OUT_OF]]
    may = may[np.argsort(-(gain_per_kg / covers)[may], kind="stable")]
    # The last place stands for none.
    columns = [
        np.append(c[may], end) for c, end in zip((most, least, covers, step), (0, 0, 1, 0), strict=True)
    ]
    gain = np.append(gain_per_kg[may], 0.0)
    choose = _choose_tried if lots <= TRIED_LOTS else _choose_one_by_one
    took = choose(columns, gain, float(model.need_kg[request]), lots)
    mass_kg[may] = took[:-1]
    return mass_kg


def _choose_tried(columns: list[Numbers], gain: Numbers, need_kg: float, lots: int) -> Numbers:
    return _best_fill(_choices(len(gain) - 1, lots), columns, gain, need_kg)[1]


def _choose_one_by_one(columns: list[Numbers], gain: Numbers, need_kg: float, lots: int) -> Numbers:
    """Add the lot that raises the gain most, until none does or there are enough."""
    none = len(gain) - 1
    chosen: list[int] = []
    worth, took = 0.0, np.zeros(len(gain))
    while len(chosen) < lots:
        others = [place for place in range(none) if place not in chosen]
        tried = np.sort(np.array([[*chosen, place] for place in others], dtype=np.int64), axis=1)
        found, given = _best_fill(tried, columns, gain, need_kg)
        if found <= worth + 1e-9:
            break
        worth, took = found, given
        chosen = [int(place) for place in np.flatnonzero(given[:-1])]
    return took


def _best_fill(
    choices: Places, columns: list[Numbers], gain: Numbers, need_kg: float
) -> tuple[float, Numbers]:
    """Of several sets of lots the one that gains most: each its least, then the best ones as much as they can."""
    most, least, covers, step = (column[choices] for column in columns)
    given = least.copy()
    rest = need_kg - (given * covers).sum(axis=1)
    fits = rest >= -1e-9
    for place in range(choices.shape[1]):
        more = np.minimum(most[:, place] - least[:, place], np.maximum(rest, 0.0) / covers[:, place])
        size = step[:, place]
        whole = np.floor(more / np.where(size > 0, size, 1.0) + 1e-9) * size
        more = np.where(size > 0, whole, np.floor(more * 1000 + 1e-6) / 1000)
        given[:, place] += more
        rest = rest - more * covers[:, place]
    worth = np.where(fits, (given * gain[choices]).sum(axis=1), -np.inf)
    best = int(worth.argmax())
    took: Numbers = np.zeros(len(gain))
    if worth[best] > 0:
        took[choices[best]] = given[best]
        took[-1] = 0.0
    return float(max(worth[best], 0.0)), took


@cache
def _choices(out_of: int, lots: int) -> Places:
    """Every set of one to so many places, filled up with the place that stands for none."""
    sets = [
        (*chosen, *[out_of] * (lots - size))
        for size in range(1, lots + 1)
        for chosen in itertools.combinations(range(out_of), size)
    ]
    return np.array(sets, dtype=np.int64)
