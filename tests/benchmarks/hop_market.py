"""A made-up region for the allocation: many requests, many lots, and a few dozen lots that suit each request."""

import numpy as np

from service.market.planning.allocation_model import Model, make_model

PARCELS_KG = (5.0, 10.0, 20.0, 25.0, 50.0)


def hop_market(*, requests: int = 2000, lots: int = 5000, suits: int = 30, seed: int = 1) -> Model:
    """Needs of 50 to 1,995 kg, lots of 25 to 995 kg, smallest parcels, and at most three lots for each request.

    Some lots are far more sought after than others (a Pareto law), and each lot is better or worse for all alike
    before a request's own taste comes in.
    """
    chance = np.random.default_rng(seed)
    need_kg = chance.integers(10, 400, requests) * 5.0
    stock_kg = chance.integers(5, 200, lots) * 5.0
    parcel_kg = chance.choice(PARCELS_KG, lots)
    sought = chance.pareto(1.5, lots) + 0.1
    sought /= sought.sum()
    request = np.repeat(np.arange(requests), suits)
    lot = np.concatenate([chance.choice(lots, suits, replace=False, p=sought) for _ in range(requests)])
    quality = chance.normal(0.6, 0.15, lots)
    score = np.clip(quality[lot] + chance.normal(0, 0.15, len(lot)), 0.02, 1.0).round(3)
    return make_model(
        need_kg=need_kg,
        lots_max=np.full(requests, 3),
        stock_kg=stock_kg,
        step_kg=np.zeros(lots),
        request=request,
        lot=lot,
        worth_per_kg=score,
        least_kg=np.minimum(parcel_kg, stock_kg)[lot],
    )
