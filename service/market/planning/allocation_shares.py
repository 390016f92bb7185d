"""Shares of a short crop: as even as the lots allow, out of one linear program.

Each need is cut into steps of the same share, and the first steps of all count more than the second ones, and so on:
kilograms that two requests could have go to the one that has the smaller share so far. Smallest parcels are left
out, and lots are counted in shares of what they can give.
"""

from typing import Any

import numpy as np

from service.market.planning.allocation_model import Model
from service.science.arrays import Numbers, Places

# The more requests, the coarser the steps: 200 of half a percent for a few, 20 of five percent for thousands.
STEPS_MAX, STEPS_MIN, STEPS_IN_ALL = 200, 20, 40_000


def fair_shares(model: Model, *, seconds: float) -> Numbers | None:
    """The share of its need that each request can have; None where that could not be told in time.

    A request without a pair has the share 0.
    """
    import scipy.sparse as sparse  # noqa: PLC0415 -- slow import
    from scipy.optimize import linprog  # noqa: PLC0415 -- slow import

    requests, lots, across = len(model.need_kg), len(model.stock_kg), np.arange(model.pairs)
    if model.pairs == 0:
        return np.zeros(requests)
    steps = steps_for(requests)
    of_request = np.repeat(np.arange(requests), steps)

    def summed(values: Numbers, rows: Places, how_many: int) -> Any:
        return sparse.csr_array((values, (rows, np.arange(len(values)))), shape=(how_many, len(values)))

    none = np.ones(len(across))
    rows = sparse.block_array(
        [
            [
                -summed(model.covers, model.request, requests),
                summed(np.ones(len(of_request)), of_request, requests),
            ],
            [summed(none, model.lot, lots), None],
            [summed(1 / model.most_kg, model.request, requests), None],
        ],
        format="csr",
    )
    counted = np.minimum(model.lots_max, model.pairs).astype(float)
    counts_more = np.tile(np.arange(steps, 0, -1, dtype=float), requests)
    step_kg = np.repeat(model.need_kg / steps, steps)
    found = linprog(
        np.concatenate([np.zeros(model.pairs), -counts_more]),
        A_ub=rows,
        b_ub=np.concatenate([np.zeros(requests), model.stock_kg, counted]),
        bounds=np.stack(
            [np.zeros(model.pairs + len(step_kg)), np.concatenate([model.most_kg, step_kg])], axis=1
        ),
        method="highs-ipm",
        options={"time_limit": seconds},
    )
    if found.status != 0:
        return None
    given = np.bincount(of_request, found.x[model.pairs :], requests)
    shares: Numbers = np.divide(given, model.need_kg, out=np.zeros(requests), where=model.need_kg > 0)
    return np.clip(shares, 0.0, 1.0)


def steps_for(requests: int) -> int:
    """Into how many steps each need is cut.

    >>> steps_for(15), steps_for(2000)
    (200, 20)

    """
    return int(min(STEPS_MAX, max(STEPS_MIN, STEPS_IN_ALL // max(requests, 1))))
