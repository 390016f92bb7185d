"""The most that requests can take of what fits them, no kilogram twice: a maximum flow."""

from collections.abc import Sequence

import numpy as np

from service.market.matching.candidates import Floats
from service.science.arrays import Places

# The library counts in whole numbers of 32 bits; where grams would not do, the unit grows.
MOST_UNITS = 2_000_000_000
GRAM = 0.001
# Beyond so many pairs of request and lot the flow would take long; what all lots hold together is told then.
PAIRS_MAX = 3_000_000


def most_taken(
    wanted: Sequence[float], fits: Sequence[Places], there: Floats, *, pairs_max: int = PAIRS_MAX
) -> float:
    """The most of what is there that can be taken, each request from the lots that fit it; never told too low.

    Requests with the very same lots are one in the sum.

    Args:
        wanted: what each request wants.
        fits: the places of the lots that fit it.
        there: what each lot holds, in the same unit.
        pairs_max: with more pairs than that all lots that fit any request count as one.

    """
    by_lots: dict[bytes, tuple[float, Places]] = {}
    for most, places in zip(wanted, fits, strict=True):
        key = places.tobytes()
        by_lots[key] = (by_lots.get(key, (0.0, places))[0] + most, places)
    needs = [most for most, _ in by_lots.values()]
    lots = [places for _, places in by_lots.values()]
    if not sum(map(len, lots)):
        return 0.0
    reached = np.unique(np.concatenate(lots))
    whole = min(sum(needs), float(there[reached].sum()))
    if len(needs) == 1 or sum(map(len, lots)) > pairs_max:
        return whole
    return min(whole, _flow(needs, [np.searchsorted(reached, places) for places in lots], there[reached]))


def _flow(needs: Sequence[float], lots: Sequence[Places], there: Floats) -> float:
    from scipy.sparse import csr_matrix  # noqa: PLC0415 -- slow import
    from scipy.sparse.csgraph import maximum_flow  # noqa: PLC0415 -- slow import

    unit = max(GRAM, sum(needs) / MOST_UNITS)
    many, stocks = len(needs), len(there)
    # The source, the requests, the lots, the sink.
    request = 1 + np.repeat(np.arange(many), [len(places) for places in lots])
    begin = np.concatenate([np.zeros(many), request, 1 + many + np.arange(stocks)])
    end = np.concatenate(
        [1 + np.arange(many), 1 + many + np.concatenate(lots), np.full(stocks, 1 + many + stocks)]
    )
    wanted = _units(needs, unit)
    held = np.minimum(_units(there, unit), wanted.sum())
    capacity = np.concatenate([wanted, wanted[request - 1], held]).astype(np.int32)
    size = many + stocks + 2
    graph = csr_matrix((capacity, (begin.astype(np.int32), end.astype(np.int32))), shape=(size, size))
    return float(maximum_flow(graph, 0, size - 1).flow_value) * unit


def _units(masses: Sequence[float] | Floats, unit: float) -> Floats:
    # Upwards, but for the last digits of a float.
    units: Floats = np.ceil(np.asarray(masses, dtype=float) / unit - 1e-6)
    return units
