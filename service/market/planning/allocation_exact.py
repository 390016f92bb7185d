"""The mixed-integer program of an allocation, whole or for some of its pairs, handed to a solver."""

from typing import Any

import numpy as np

from service.facts import Fact
from service.market.goods.stock import to_the_gram
from service.market.planning.allocation_model import Model
from service.science.arrays import Numbers, Places

# What the solver says of its own end.
OPTIMAL, STOPPED = 0, 1


class Solved(Fact, frozen=True, kw_only=True):
    """Masses of the pairs that were asked about, what no plan exceeds, and whether the solver proved it best."""

    mass_kg: Numbers
    bound: float
    is_optimal: bool


def solve_pairs(
    model: Model,
    pairs: Places,
    *,
    free_kg: Numbers,
    seconds: float,
    gap: float = 0.0,
    nodes: int | None = None,
) -> Solved | None:
    """The best masses of some pairs alone, with what is free of each lot for them; None where none was found.

    Each pair has its mass (or its number of packages), each parcel a yes or no; the mass lies between least and most
    times the yes.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 -- slow import

    if len(pairs) == 0:
        return Solved(mass_kg=np.zeros(0), bound=0.0, is_optimal=True)
    step = model.step_kg[model.lot[pairs]]
    unit = np.where(step > 0, step, 1.0)
    most = np.minimum(model.most_kg[pairs], free_kg[model.lot[pairs]])
    most = np.where(step > 0, np.floor(most / unit + 1e-9), most)
    _, first, parcel = np.unique(model.parcel[pairs], return_index=True, return_inverse=True)
    least_kg = model.least_kg[pairs[first]]
    may = np.bincount(parcel, most * unit) >= least_kg - 1e-9
    most = np.where(may[parcel], most, 0.0)
    count = len(pairs)
    parcels = Parcels(
        of_pair=parcel, request=model.request[pairs[first]], least_kg=np.where(may, least_kg, 0.0)
    )
    limits, highest = _rows(model, pairs, parcels, unit=unit, most=most, free_kg=free_kg)
    options: dict[str, Any] = {"time_limit": seconds, "mip_rel_gap": gap}
    if nodes is not None:
        options["node_limit"] = nodes
    found = milp(
        np.concatenate([-model.worth_per_kg[pairs] * unit, np.zeros(len(first))]),
        constraints=LinearConstraint(limits, -np.inf, highest),
        bounds=Bounds(0, np.concatenate([most, may.astype(float)])),
        integrality=np.concatenate([(step > 0).astype(int), np.ones(len(first))]),
        options=options,
    )
    if found.x is None:
        return None
    mass = np.where(step > 0, np.rint(found.x[:count]), found.x[:count]) * unit
    mass = np.where(found.x[count:][parcel] > 0.5, to_the_gram(mass), 0.0)
    mass = np.where((np.bincount(parcel, mass) >= least_kg - 1e-9)[parcel], mass, 0.0)
    bound = -found.mip_dual_bound if found.mip_dual_bound is not None else np.inf
    return Solved(mass_kg=mass, bound=float(bound), is_optimal=found.status == OPTIMAL)


class Parcels(Fact, frozen=True, kw_only=True):
    """The parcels that pairs make: which each pair is part of, and of each its request and its least mass."""

    of_pair: Places
    request: Places
    least_kg: Numbers


def _rows(
    model: Model, pairs: Places, parcels: Parcels, *, unit: Numbers, most: Numbers, free_kg: Numbers
) -> tuple[Any, Numbers]:
    """The limits as rows of a sparse matrix, and what each may be at most."""
    import scipy.sparse as sparse  # noqa: PLC0415 -- slow import

    count = len(pairs)
    across = np.arange(count)
    requests, of_request = np.unique(model.request[pairs], return_inverse=True)
    lots, of_lot = np.unique(model.lot[pairs], return_inverse=True)

    def summed(values: Numbers, rows: Places, how_many: int) -> Any:
        return sparse.csr_array((values, (rows, across)), shape=(how_many, count))

    one = sparse.identity(count, format="csr")
    every = len(parcels.request)
    taken = np.searchsorted(requests, parcels.request)
    yes = sparse.csr_array((np.ones(every), (taken, np.arange(every))), shape=(len(requests), every))
    of_parcel = sparse.csr_array((most, (across, parcels.of_pair)), shape=(count, every))
    limits = sparse.block_array(
        [
            [summed(model.covers[pairs] * unit, of_request, len(requests)), None],
            [summed(unit, of_lot, len(lots)), None],
            [None, yes],
            [one, -of_parcel],
            [-summed(unit, parcels.of_pair, every), sparse.diags_array(parcels.least_kg)],
        ],
        format="csc",
    )
    lots_max = np.minimum(model.lots_max[requests], count).astype(float)
    highest = np.concatenate([model.need_kg[requests], free_kg[lots], lots_max, np.zeros(count + every)])
    return limits, highest
