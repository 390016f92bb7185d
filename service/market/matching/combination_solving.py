"""The mixed-integer program of a combination, in which each limit can be let go a little."""

import itertools
from collections.abc import Collection
from typing import Any

import numpy as np

from service.facts import Fact
from service.market.goods.stock import to_the_gram
from service.market.matching.combination_model import (
    DISTANCE,
    GRAM,
    LOTS,
    NEED,
    PARCEL,
    TOLERANCE,
    Mix,
    MixLimit,
    breaks,
)
from service.science.arrays import Numbers, Places

# A limit let go costs 1; how far it is let go decides only between sets of as many.
FAR_COUNTS = 1e-3
INFEASIBLE = 2
# Whoever wants much is not helped by a trifle: of the need and of the smallest parcel so much stays. House figure;
# assumption, no source.
LEAST_SHARE = 0.1
# Up to so many parcels every way of rounding them to grams is tried.
ROUNDED_TOGETHER = 8


class Mixed(Fact, frozen=True, kw_only=True):
    """Masses, the objective, what no mix undercuts, and what was let go; `is_possible` is False where proven so."""

    mass_kg: Numbers | None
    bound: float
    is_proven: bool
    is_possible: bool | None


def solve_mix(mix: Mix, *, seconds: float, let_go: Collection[str] = (), fewest: bool = False) -> Mixed:
    """The cheapest mix; or with limits let go, the one that needs the least of it.

    Args:
        mix: the columns.
        seconds: how long to try.
        let_go: which limits may be let go; then not the cost counts but how far.
        fewest: whether as few limits as can be are let go at all.

    """
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 -- slow import

    lots, slacks, count = len(mix.free_kg), len(mix.names), _count(mix)
    may = np.array([name in let_go for name in mix.names], dtype=float)
    near = mix.beyond_km <= 0
    cost: Numbers = np.zeros(count)
    if not let_go:
        cost[:lots] = mix.cost
    else:
        cost[-2 * slacks : -slacks] = FAR_COUNTS if fewest else 1.0
        cost[-slacks:] = 1.0 if fewest else 0.0
    highest = np.concatenate(
        [
            mix.free_kg,
            np.ones(lots) if DISTANCE in let_go else near.astype(float),
            _package_counts(mix),
            np.where(may > 0, _furthest(mix), 0.0),
            may,
        ]
    )
    whole = np.concatenate([np.zeros(lots), np.ones(lots), np.ones(_packages(mix)), np.zeros(slacks), may])
    rows, least, most = _rows(mix)
    found = milp(
        cost,
        constraints=LinearConstraint(rows, least, most),
        bounds=Bounds(0, highest),
        integrality=whole,
        options={"time_limit": seconds, "mip_rel_gap": 0.0},
    )
    bound = found.mip_dual_bound if found.mip_dual_bound is not None else -np.inf
    if found.x is None:
        impossible = found.status == INFEASIBLE
        return Mixed(
            mass_kg=None, bound=float(bound), is_proven=impossible, is_possible=False if impossible else None
        )
    mass = _exact(mix, found.x, strictly=not let_go)
    return Mixed(mass_kg=mass, bound=float(bound), is_proven=found.status == 0, is_possible=True)


def _packages(mix: Mix) -> int:
    return sum(len(sizes) for sizes in mix.packages.values())


def _package_counts(mix: Mix) -> Numbers:
    return np.array([count for sizes in mix.packages.values() for _, count in sizes], dtype=float)


def _count(mix: Mix) -> int:
    return 2 * len(mix.free_kg) + _packages(mix) + 2 * len(mix.names)


def _furthest(mix: Mix) -> Numbers:
    """How far each limit can be let go at most, in shares of what is wanted."""
    shares = [
        float(np.maximum(limit.coefficients, 0.0) @ mix.free_kg) / _size_of(mix, limit)
        for limit in mix.limits
    ]
    most = 1 - LEAST_SHARE
    return np.array([most, *(max(share, 1e-6) for share in shares), len(mix.free_kg), most, 1.0])


def _size_of(mix: Mix, limit: MixLimit) -> float:
    """What counts as the whole of a limit: what is wanted, in the mass that is wanted."""
    under = limit.under[limit.under > 0]
    return max(abs(limit.wanted), 1e-3) * (float(np.median(under)) if len(under) else 1.0) * mix.usual_kg


class _Rows:
    """The rows of the program over its columns: masses, yes or no, packages, slacks, slacks used."""

    def __init__(self, mix: Mix) -> None:
        import scipy.sparse as sparse  # noqa: PLC0415 -- slow import

        self.sparse, self.mix = sparse, mix
        self.columns = ["x", "y", *(["n"] if mix.packages else []), "s", "z"]
        self.blocks: list[list[Any]] = []
        self.least: list[Numbers] = []
        self.most: list[Numbers] = []

    def add(self, *, least: Numbers, most: Numbers, **parts: Any) -> None:
        """Rows made of parts by column; what is not named is nothing."""
        self.blocks.append([parts.get(name) for name in self.columns])
        self.least.append(least)
        self.most.append(most)

    def at_most(self, most: Numbers, **parts: Any) -> None:
        """Rows with no least."""
        self.add(least=np.full(len(most), -np.inf), most=most, **parts)

    def line(self, values: Numbers) -> Any:
        """One row."""
        return self.sparse.csr_array(values[None, :])

    def slack(self, name: str, size: float, rows: int = 1) -> Any:
        """What lets a limit go in each of these rows."""
        across = np.full(rows, self.mix.names.index(name))
        shape = (rows, len(self.mix.names))
        return self.sparse.csr_array((np.full(rows, size), (np.arange(rows), across)), shape=shape)

    def matrix(self) -> tuple[Any, Numbers, Numbers]:
        """All rows, what each is at least, and at most."""
        whole = self.sparse.block_array(self.blocks, format="csc")
        return whole, np.concatenate(self.least), np.concatenate(self.most)


def _rows(mix: Mix) -> tuple[Any, Numbers, Numbers]:
    rows, lots = _Rows(mix), len(mix.free_kg)
    one, diagonal = rows.sparse.identity(lots, format="csr"), rows.sparse.diags_array
    rows.add(
        least=np.ones(1), most=np.full(1, np.inf), x=rows.line(1 / mix.needed_kg), s=rows.slack(NEED, 1.0)
    )
    # However far the need is let go, some lot serves it.
    rows.add(least=np.ones(1), most=np.full(1, np.inf), y=rows.line(np.ones(lots)))
    for limit in mix.limits:
        scaled = rows.line(limit.coefficients / _size_of(mix, limit))
        rows.at_most(np.zeros(1), x=scaled, s=rows.slack(limit.name, -1.0))
    rows.at_most(np.full(1, float(mix.lots_max)), y=rows.line(np.ones(lots)), s=rows.slack(LOTS, -1.0))
    rows.at_most(np.zeros(lots), x=one, y=-diagonal(mix.free_kg))
    rows.at_most(np.zeros(lots), x=-one, y=diagonal(mix.order_kg))
    parcel = np.full(lots, mix.parcel_kg)
    rows.at_most(np.zeros(lots), x=-one, y=diagonal(parcel), s=rows.slack(PARCEL, -mix.parcel_kg, lots))
    furthest_km = max(float(mix.beyond_km.max(initial=0.0)), 1e-9)
    beyond = np.maximum(mix.beyond_km, 0.0) / furthest_km
    rows.at_most(np.zeros(lots), y=diagonal(beyond), s=rows.slack(DISTANCE, -1.0, lots))
    if mix.packages:
        places, sizes = _sizes(mix)
        sold, kinds = np.array(list(mix.packages)), len(sizes)
        whole = rows.sparse.csr_array(
            (np.ones(len(sold)), (np.arange(len(sold)), sold)), shape=(len(sold), lots)
        )
        filled = rows.sparse.csr_array((-sizes, (places, np.arange(kinds))), shape=(len(sold), kinds))
        rows.add(least=np.zeros(len(sold)), most=np.zeros(len(sold)), x=whole, n=filled)
    used = rows.sparse.identity(len(mix.names), format="csr")
    rows.at_most(np.zeros(len(mix.names)), s=used, z=-diagonal(_furthest(mix)))
    return rows.matrix()


def _sizes(mix: Mix) -> tuple[Places, Numbers]:
    """Of each kind of package: which of the lots sold so it belongs to, and what it holds."""
    pairs = [(at, size) for at, sizes in enumerate(mix.packages.values()) for size, _ in sizes]
    return np.array([at for at, _ in pairs], dtype=np.int64), np.array([size for _, size in pairs])


def _exact(mix: Mix, found: Numbers, *, strictly: bool) -> Numbers:
    """The masses to the gram, and none of the need lost to it."""
    lots = len(mix.free_kg)
    mass = np.where(found[lots : 2 * lots] > 0.5, to_the_gram(found[:lots]), 0.0)
    if mix.packages:
        counts = np.rint(found[2 * lots : 2 * lots + _packages(mix)])
        places, sizes = _sizes(mix)
        sold = np.bincount(places, counts * sizes, len(mix.packages))
        mass[list(mix.packages)] = np.round(sold, 3)
    loose = [at for at in np.flatnonzero(mass > 0).tolist() if at not in mix.packages]
    best = _nearest_in_grams(mix, mass, found[:lots], loose) if strictly else None
    return _need_met(mix, mass, loose) if best is None else best


def _nearest_in_grams(mix: Mix, mass: Numbers, wished: Numbers, loose: list[int]) -> Numbers | None:
    """The cheapest masses, a gram around what was found, that keep every limit to the last digit; None if none do."""
    best, lowest = None, np.inf
    for more in itertools.product((0, 1), repeat=len(loose)) if len(loose) <= ROUNDED_TOGETHER else ():
        tried = mass.copy()
        for at, one in zip(loose, more, strict=True):
            up = float(np.ceil(round(wished[at] * 1000, 4)) / 1000)
            tried[at] = min(mix.free_kg[at], up) if one else mass[at]
        cost = float(mix.cost @ tried)
        if cost < lowest and not breaks(mix, tried, grams_kg=0.0):
            best, lowest = tried, cost
    return best


def _need_met(mix: Mix, mass: Numbers, loose: list[int]) -> Numbers:
    """The need is met to the gram; a limit may be off by what a gram of each parcel makes."""
    missing = 1 - float((mass / mix.needed_kg).sum())
    roomy = [at for at in loose if mass[at] < mix.free_kg[at]]
    # What grams cost is little; no more is made up than rounding took, so that nothing else is broken by it.
    rounded = max(1e-4, GRAM * float((1 / mix.needed_kg[loose]).sum()) + 2 * TOLERANCE)
    if 0 < missing <= rounded and roomy:
        at = min(roomy, key=lambda place: mix.cost[place])
        grams = np.ceil(missing * mix.needed_kg[at] * 1000 - 1e-6)
        mass[at] = min(mix.free_kg[at], round(mass[at] + grams / 1000, 3))
    return mass
