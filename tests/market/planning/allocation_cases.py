"""Small allocation models, and the best plan found by trying every plan."""

import itertools

import numpy as np
from hypothesis import strategies as st

from service.market.planning.allocation_model import Model, make_model


def a_model(
    need_kg: list[float],
    stock_kg: list[float],
    pairs: list[tuple[int, int, float]],
    *,
    least_kg: float = 0.0,
    step_kg: list[float] | None = None,
    lots_max: list[int] | None = None,
    covers: list[float] | None = None,
    whole: list[int] | None = None,
) -> Model:
    """A model of pairs (request, lot, worth per kilogram)."""
    return make_model(
        need_kg=np.array(need_kg, dtype=float),
        lots_max=np.array(lots_max or [99] * len(need_kg)),
        stock_kg=np.array(stock_kg, dtype=float),
        step_kg=np.array(step_kg or [0.0] * len(stock_kg)),
        request=np.array([p[0] for p in pairs], dtype=np.int64),
        lot=np.array([p[1] for p in pairs], dtype=np.int64),
        worth_per_kg=np.array([p[2] for p in pairs], dtype=float),
        covers=None if covers is None else np.array(covers),
        least_kg=np.full(len(pairs), least_kg),
        whole=None if whole is None else np.array(whole, dtype=np.int64),
    )


def best_by_trying(model: Model) -> float:
    """The largest worth of all plans in whole kilograms.

    With whole kilograms everywhere the best plan is among them: once it is chosen who takes from which lot, the
    rest is a flow, and flows of whole numbers have whole best answers.
    """
    ways = [range(int(most) + 1) for most in model.most_kg]
    tried = list(itertools.product(*ways))
    plans = np.array(tried, dtype=float).reshape(len(tried), model.pairs)
    holds = np.ones(len(plans), dtype=bool)
    for request, need in enumerate(model.need_kg):
        own = plans[:, model.request == request]
        parcels = model.parcel[model.request == request]
        takes = [(own[:, parcels == parcel] > 0).any(axis=1) for parcel in np.unique(parcels)]
        holds &= (own.sum(axis=1) <= need) & (np.sum(takes, axis=0) <= model.lots_max[request])
    for parcel in np.unique(model.parcel):
        mine = model.parcel == parcel
        given = plans[:, mine].sum(axis=1)
        holds &= (given == 0) | (given >= model.least_kg[mine][0])
    for lot, stock in enumerate(model.stock_kg):
        own = plans[:, model.lot == lot]
        holds &= own.sum(axis=1) <= stock
        if model.step_kg[lot] > 0:
            holds &= (own % model.step_kg[lot] == 0).all(axis=1)
    return float((plans[holds] @ model.worth_per_kg).max())


@st.composite
def small_models(draw: st.DrawFn) -> Model:
    """Up to three requests and three stocks of a few kilograms, some sold in packages, some sizes of one lot."""
    requests, lots = draw(st.integers(1, 3)), draw(st.integers(1, 3))
    every = [(r, lot) for r in range(requests) for lot in range(lots)]
    chosen = draw(st.lists(st.sampled_from(every), min_size=1, max_size=6, unique=True))
    whole = draw(st.lists(st.integers(0, 2), min_size=lots, max_size=lots))
    # A parcel has one score, whatever the sizes it is made of.
    worth = {(r, whole[lot]): draw(st.integers(1, 20)) / 20 for r, lot in chosen}
    sizes = [1.0, 2.0, 3.0] if len(set(whole)) < lots else [0.0, 2.0]
    return a_model(
        draw(st.lists(st.integers(1, 5), min_size=requests, max_size=requests)),
        draw(st.lists(st.integers(1, 5), min_size=lots, max_size=lots)),
        [(r, lot, worth[r, whole[lot]]) for r, lot in chosen],
        least_kg=draw(st.integers(0, 3)),
        step_kg=draw(st.lists(st.sampled_from(sizes), min_size=lots, max_size=lots)),
        whole=whole,
        lots_max=draw(st.lists(st.integers(1, 3), min_size=requests, max_size=requests)),
    )
