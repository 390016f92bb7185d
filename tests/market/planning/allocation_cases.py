"""Small models, and the best plan found by trying every plan."""

import itertools

import numpy as np
from hypothesis import strategies as st

from service.market.planning.model import Model, make_model


def a_model(
    need_kg: list[float],
    stock_kg: list[float],
    pairs: list[tuple[int, int, float]],
    *,
    least_kg: float = 0.0,
    size_kg: list[float] | None = None,
    lots_max: list[int] | None = None,
    covers: list[float] | None = None,
    lot_of_goods: list[int] | None = None,
) -> Model:
    """A model of pairs (request, lot, worth per kilogram); without `lot_of_goods` every entry is a lot of its own."""
    lots = list(range(len(stock_kg))) if lot_of_goods is None else lot_of_goods
    return make_model(
        need_kg=np.array(need_kg, dtype=float),
        lots_max=np.array(lots_max or [99] * len(need_kg)),
        stock_kg=np.array(stock_kg, dtype=float),
        size_kg=np.array(size_kg or [0.0] * len(stock_kg)),
        lot_of_goods=np.array(lots, dtype=np.int64),
        request=np.array([p[0] for p in pairs], dtype=np.int64),
        lot=np.array([p[1] for p in pairs], dtype=np.int64),
        worth_per_kg=np.array([p[2] for p in pairs], dtype=float),
        covers=np.ones(len(pairs)) if covers is None else np.array(covers),
        least_kg=np.full(len(pairs), least_kg),
    )


def best_by_trying(model: Model) -> float:
    """The largest worth of all plans in whole kilograms.

    With whole kilograms everywhere the best plan is among them: once it is chosen who takes from which lot, the
    rest is a flow, and flows of whole numbers have whole best answers.
    """
    limits = np.minimum(model.most_kg[model.pair], model.stock_kg[model.goods])
    tried = list(itertools.product(*[range(int(limit) + 1) for limit in limits]))
    plans = np.array(tried, dtype=float).reshape(len(tried), len(model.pair))
    holds = np.ones(len(plans), dtype=bool)
    parcels: list[np.ndarray] = []
    for pair in range(model.pairs):
        given = plans[:, model.pair == pair].sum(axis=1)
        holds &= (given == 0) | ((given >= model.least_kg[pair]) & (given <= model.most_kg[pair]))
        parcels.append(given)
    for request, need in enumerate(model.need_kg):
        own = [given for given, whose in zip(parcels, model.request, strict=True) if whose == request]
        if own:
            taken = np.stack(own)
            holds &= (taken.sum(axis=0) <= need) & ((taken > 0).sum(axis=0) <= model.lots_max[request])
    for goods, stock in enumerate(model.stock_kg):
        mass = plans[:, model.goods == goods]
        holds &= mass.sum(axis=1) <= stock
        if model.size_kg[goods] > 0:
            holds &= (mass % model.size_kg[goods] == 0).all(axis=1)
    return float((plans[holds] @ model.worth_per_kg[model.pair]).max())


@st.composite
def small_models(draw: st.DrawFn) -> Model:
    """Up to three requests and three entries of goods of a few kilograms, some of them packages of one lot."""
    requests, entries = draw(st.integers(1, 3)), draw(st.integers(1, 3))
    lots = draw(st.integers(1, entries))
    lot_of_goods = [
        *range(lots),
        *draw(st.lists(st.integers(0, lots - 1), min_size=entries - lots, max_size=entries)),
    ]
    lot_of_goods = lot_of_goods[:entries]
    sizes = [
        draw(st.sampled_from([1.0, 2.0, 3.0] if lot_of_goods.count(lot) > 1 else [0.0, 2.0]))
        for lot in lot_of_goods
    ]
    stock = [draw(st.integers(1, 5)) for _ in range(entries)]
    every = [(request, lot) for request in range(requests) for lot in range(lots)]
    chosen = draw(st.lists(st.sampled_from(every), min_size=1, max_size=6, unique=True))
    return a_model(
        draw(st.lists(st.integers(1, 5), min_size=requests, max_size=requests)),
        [kg if size == 0 else float(kg // size * size) for kg, size in zip(stock, sizes, strict=True)],
        [(request, lot, draw(st.integers(1, 20)) / 20) for request, lot in chosen],
        least_kg=draw(st.integers(0, 3)),
        size_kg=sizes,
        lot_of_goods=lot_of_goods,
        lots_max=draw(st.lists(st.integers(1, 3), min_size=requests, max_size=requests)),
    )
