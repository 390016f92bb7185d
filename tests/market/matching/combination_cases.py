"""Small mixes, and the cheapest found by trying every one."""

import itertools

import numpy as np
from hypothesis import strategies as st

from service.market.matching.combination_model import Mix, MixLimit, breaks

PACKAGE_KG = 5.0


def a_mix(
    free_kg: list[float],
    cost: list[float],
    *,
    need_kg: float = 30.0,
    alpha: list[float] | None = None,
    alpha_min: float | None = None,
    alpha_max: float | None = None,
    order_kg: float = 0.001,
    parcel_kg: float = 0.001,
    lots_max: int | None = None,
    beyond_km: list[float] | None = None,
    packages: dict[int, tuple[tuple[float, int], ...]] | None = None,
) -> Mix:
    """Lots with so much free at such a price, and a band of alpha for the mix."""
    count = len(free_kg)
    free = np.array(free_kg, dtype=float)
    bands = (("alpha_percent_min", alpha_min, False), ("alpha_percent_max", alpha_max, True))
    return Mix(
        needed_kg=np.full(count, need_kg),
        free_kg=free,
        order_kg=np.minimum(order_kg, free),
        cost=np.array(cost, dtype=float),
        beyond_km=np.array(beyond_km or [0.0] * count),
        limits=[
            MixLimit(
                name=name,
                wanted=wanted,
                is_upper=upper,
                over=np.array(alpha, dtype=float),
                under=np.ones(count),
            )
            for name, wanted, upper in bands
            if wanted is not None
        ],
        packages=packages or {},
        lots_max=count if lots_max is None else lots_max,
        parcel_kg=parcel_kg,
    )


def cheapest_by_trying(mix: Mix) -> float | None:
    """The lowest cost over every number of packages of every lot; None if none keeps all limits."""
    ways = [range(int(free // PACKAGE_KG) + 1) for free in mix.free_kg.tolist()]
    costs = []
    for counts in itertools.product(*ways):
        mass = np.array(counts) * PACKAGE_KG
        takes = mass > 0
        if (mass[takes] >= mix.order_kg[takes] - 1e-9).all() and not breaks(mix, mass):
            costs.append(float(mix.cost @ mass))
    return min(costs, default=None)


@st.composite
def package_mixes(draw: st.DrawFn) -> Mix:
    """Two to four lots of packages of 5 kg."""
    count = draw(st.integers(2, 4))

    def each(low: int, high: int) -> list[float]:
        return [float(v) for v in draw(st.lists(st.integers(low, high), min_size=count, max_size=count))]

    free = [PACKAGE_KG * packages for packages in each(1, 4)]
    return a_mix(
        free,
        each(1, 40),
        need_kg=PACKAGE_KG * draw(st.integers(1, 8)),
        alpha=each(4, 14),
        alpha_min=draw(st.one_of(st.none(), st.integers(4, 12).map(float))),
        alpha_max=draw(st.one_of(st.none(), st.integers(6, 14).map(float))),
        order_kg=draw(st.sampled_from([0.001, 10.0])),
        parcel_kg=draw(st.sampled_from([0.001, 10.0])),
        lots_max=draw(st.integers(1, count)),
        packages={at: ((PACKAGE_KG, int(kg // PACKAGE_KG)),) for at, kg in enumerate(free)},
    )
