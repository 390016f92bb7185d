"""A made-up region for the allocation: many requests, many lots, and a few dozen lots that suit each request."""

import numpy as np

from service.market.planning.model import Model, make_model
from service.science.arrays import Numbers, Places

PARCELS_KG = (5.0, 10.0, 20.0, 25.0, 50.0)
# What two thirds of the lots are sold in; the others are sold in any mass.
SIZES_KG = ((20.0,), (25.0,), (10.0,), (5.0,), (20.0, 5.0), (25.0, 10.0), (60.0, 20.0, 5.0), (10.0, 5.0, 1.0))
SOLD_IN_PACKAGES = 2 / 3


def hop_market(
    *, requests: int = 2000, lots: int = 5000, suits: int = 30, lots_max: int = 3, seed: int = 1
) -> Model:
    """Needs of 50 to 1,995 kg, lots of 25 to 995 kg, packages of up to three sizes, smallest parcels, few lots each.

    Some lots are far more sought after than others (a Pareto law), and each lot is better or worse for all alike
    before a request's own taste comes in.
    """
    chance = np.random.default_rng(seed)
    need_kg = chance.integers(10, 400, requests) * 5.0
    lot_kg = chance.integers(5, 200, lots) * 5.0
    parcel_kg = chance.choice(PARCELS_KG, lots)
    sought = chance.pareto(1.5, lots) + 0.1
    sought /= sought.sum()
    request = np.repeat(np.arange(requests), suits)
    lot = np.concatenate([chance.choice(lots, suits, replace=False, p=sought) for _ in range(requests)])
    quality = chance.normal(0.6, 0.15, lots)
    score = np.clip(quality[lot] + chance.normal(0, 0.15, len(lot)), 0.02, 1.0).round(3)
    stock_kg, size_kg, lot_of_goods = _packed(lot_kg, chance)
    return make_model(
        need_kg=need_kg,
        lots_max=np.full(requests, lots_max),
        stock_kg=stock_kg,
        size_kg=size_kg,
        lot_of_goods=lot_of_goods,
        request=request,
        lot=lot,
        worth_per_kg=score,
        covers=np.ones(len(lot)),
        least_kg=np.minimum(parcel_kg, np.bincount(lot_of_goods, stock_kg, lots))[lot],
    )


def _packed(lot_kg: Numbers, chance: "np.random.Generator") -> tuple[Numbers, Numbers, Places]:
    """What each lot has in packages of each size, that size (0: any mass), and which lot it is."""
    entries: list[tuple[float, float, int]] = []
    for place, whole_kg in enumerate(lot_kg.tolist()):
        if chance.random() >= SOLD_IN_PACKAGES:
            entries.append((whole_kg, 0.0, place))
            continue
        sizes, left_kg = SIZES_KG[int(chance.integers(len(SIZES_KG)))], whole_kg
        for size in sizes:
            share = 1.0 if size == sizes[-1] else float(chance.uniform(0.3, 0.9))
            packed_kg = left_kg * share // size * size
            entries.append((packed_kg, size, place))
            left_kg -= packed_kg
    stock, size_kg, lot = zip(*entries, strict=True)
    return np.array(stock), np.array(size_kg), np.array(lot, dtype=np.int64)
