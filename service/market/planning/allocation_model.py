"""What an allocation decides on: needs, lots and the pairs of them that may be, as bare columns of numbers.

A pair may give nothing, or a parcel from its least to its most mass, in steps of a package where the lot is sold so.
A lot sold in packages of several sizes stands here once for each size; its pairs with one request are one parcel:
they count as one lot, and only together must they come to the least. A request takes from at most so many lots,
covers no more than its need, and no lot gives more than it has. The worth of a plan is the sum of mass times worth
per kilogram.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from service.facts import Fact
from service.market.goods.stock import to_the_gram
from service.science.arrays import Flags, Numbers, Places

# More lots than any request names: no limit.
ANY_NUMBER = 1_000_000
GRAM = 0.001
# A solver keeps its limits to a thousandth of a gram; what it means is the nearest gram below.


class Model(Fact, frozen=True, kw_only=True):
    """The columns. Pairs stand in the order of their requests; `origin` is the place of a pair as it was given.

    `whole` tells which stocks are sizes of one lot, by a number that they share; `parcel` which pairs are one parcel.
    """

    need_kg: Numbers
    lots_max: Places
    stock_kg: Numbers
    step_kg: Numbers
    whole: Places
    request: Places
    lot: Places
    parcel: Places
    worth_per_kg: Numbers
    covers: Numbers
    least_kg: Numbers
    most_kg: Numbers
    origin: Places

    @property
    def has_sizes(self) -> bool:
        """Whether a lot stands here in several sizes."""
        return len(np.unique(self.whole)) < len(self.whole)

    @property
    def pairs(self) -> int:
        """How many pairs may be."""
        return len(self.request)

    def worth(self, mass_kg: Numbers) -> float:
        """What a plan is worth."""
        return float(self.worth_per_kg @ mass_kg)

    def taken_kg(self, mass_kg: Numbers) -> Numbers:
        """What a plan takes from each lot."""
        taken: Numbers = np.bincount(self.lot, mass_kg, len(self.stock_kg)).astype(float)
        return taken

    def lots_used(self, mass_kg: Numbers) -> Places:
        """From how many lots each request takes."""
        parcels = np.unique(self.parcel[mass_kg > 0], return_index=True)[1]
        request = self.request[mass_kg > 0][parcels]
        return np.bincount(request, minlength=len(self.need_kg))

    def covered_kg(self, mass_kg: Numbers) -> Numbers:
        """What a plan covers of each need."""
        covered = np.bincount(self.request, self.covers * mass_kg, len(self.need_kg))
        return covered.astype(float)


def make_model(
    *,
    need_kg: Numbers,
    lots_max: Places,
    stock_kg: Numbers,
    step_kg: Numbers,
    request: Places,
    lot: Places,
    worth_per_kg: Numbers,
    covers: Numbers | None = None,
    least_kg: Numbers,
    whole: Places | None = None,
) -> Model:
    """Put the columns in order, and leave out each pair whose least parcel is more than it could give."""
    each = np.ones(len(request)) if covers is None else covers
    step = step_kg[lot]
    one = np.arange(len(stock_kg)) if whole is None else whole
    _, parcel = np.unique(request * (len(stock_kg) + 1) + one[lot], return_inverse=True)
    is_split = np.bincount(parcel, minlength=1)[parcel] > 1
    with np.errstate(divide="ignore", invalid="ignore"):
        most = to_the_gram(np.minimum(need_kg[request] / each, stock_kg[lot]))
        in_packages = to_the_gram(np.floor(most / step + 1e-9) * step)
        least = np.where(step > 0, np.ceil(least_kg / step - 1e-9) * step, least_kg)
    most = np.where(step > 0, in_packages, most)
    least = np.maximum(np.where((step > 0) & (least <= 0), step, least), GRAM)
    least = np.where(is_split, np.maximum(least_kg, GRAM), least)
    in_all = np.bincount(parcel, most, minlength=1)[parcel]
    may = (most > 0) & (in_all >= least - 1e-9) & (worth_per_kg > 0) & (lots_max[request] > 0)
    order = np.flatnonzero(may)
    order = order[np.argsort(request[order], kind="stable")]
    return Model(
        need_kg=np.asarray(need_kg, dtype=float),
        lots_max=np.asarray(lots_max, dtype=np.int64),
        stock_kg=np.asarray(stock_kg, dtype=float),
        step_kg=np.asarray(step_kg, dtype=float),
        whole=one,
        request=request[order],
        lot=lot[order],
        parcel=parcel[order],
        worth_per_kg=worth_per_kg[order].astype(float),
        covers=each[order].astype(float),
        least_kg=np.minimum(least, in_all)[order].astype(float),
        most_kg=most[order].astype(float),
        origin=order,
    )


def without_sizes(model: Model) -> Model:
    """The same with every lot in one piece that is sold in any mass: no plan is worth more for being so bound."""
    if not model.has_sizes:
        return model
    stocks, whole = np.unique(model.whole, return_inverse=True)
    _, first = np.unique(model.parcel, return_index=True)
    return make_model(
        need_kg=model.need_kg,
        lots_max=model.lots_max,
        stock_kg=np.bincount(whole, model.stock_kg, len(stocks)).astype(float),
        step_kg=np.zeros(len(stocks)),
        request=model.request[first],
        lot=whole[model.lot[first]],
        worth_per_kg=model.worth_per_kg[first],
        covers=model.covers[first],
        least_kg=np.zeros(len(first)),
    )


def faults_of(model: Model, mass_kg: Numbers) -> list[str]:
    """Everything that a plan breaks, reckoned from the columns alone, without a solver; none for a plan that holds."""
    return [*_parcel_faults(model, mass_kg), *_sum_faults(model, mass_kg)]


def _parcel_faults(model: Model, mass_kg: Numbers) -> Iterator[str]:
    parcel_kg = np.bincount(model.parcel, mass_kg, minlength=1)
    for place in np.flatnonzero(mass_kg != 0).tolist():
        mass, step = float(mass_kg[place]), float(model.step_kg[model.lot[place]])
        where = f"request {model.request[place]} from lot {model.lot[place]}"
        if not parcel_kg[model.parcel[place]] >= model.least_kg[place] - 1e-9:
            yield f"{where}: {mass} kg is under the least parcel, {model.least_kg[place]} kg"
        if mass > model.most_kg[place] + 1e-9:
            yield f"{where}: {mass} kg is over the most, {model.most_kg[place]} kg"
        if abs(mass * 1000 - round(mass * 1000)) > 1e-3:
            yield f"{where}: {mass} kg is no whole number of grams"
        if step > 0 and abs(mass / step - round(mass / step)) > 1e-6:
            yield f"{where}: {mass} kg is no whole number of packages of {step} kg"


def _sum_faults(model: Model, mass_kg: Numbers) -> Iterator[str]:
    grams = np.rint(mass_kg * 1000).astype(np.int64)
    taken_g = np.zeros(len(model.stock_kg), dtype=np.int64)
    np.add.at(taken_g, model.lot, grams)
    for lot in np.flatnonzero(taken_g > np.rint(model.stock_kg * 1000)).tolist():
        yield f"lot {lot} gives {taken_g[lot] / 1000} kg and has {model.stock_kg[lot]} kg"
    covered = model.covered_kg(mass_kg)
    for request in np.flatnonzero(covered > model.need_kg + 1e-6 + 1e-9 * model.need_kg).tolist():
        yield f"request {request} gets {covered[request]} kg and needs {model.need_kg[request]} kg"
    lots = model.lots_used(mass_kg)
    for request in np.flatnonzero(lots > model.lots_max).tolist():
        yield f"request {request} takes from {lots[request]} lots, at most {model.lots_max[request]}"


class Grid(Fact, frozen=True, kw_only=True):
    """The pairs of a model as a table, one line a request, filled up with pairs that can give nothing.

    `pair` is the place in the model (0 in the filling); `most` counts in kilograms of need.
    """

    pair: Places
    is_pair: Flags
    lot: Places
    most: Numbers
    covers: Numbers
    worth: Numbers

    @property
    def width(self) -> int:
        """The most pairs of one request."""
        return int(self.pair.shape[1])


def grid_of(model: Model) -> Grid:
    """Lay a model out as a table."""
    requests = len(model.need_kg)
    counts = np.bincount(model.request, minlength=requests)
    begins = np.concatenate([[0], np.cumsum(counts)[:-1]])
    across = np.arange(max(int(counts.max(initial=0)), 1))
    is_pair = across[None, :] < counts[:, None]
    pair = np.where(is_pair, begins[:, None] + across[None, :], 0)

    def laid(values: Numbers, filling: float) -> Numbers:
        found = values[pair] if len(values) else np.zeros(pair.shape)
        return np.where(is_pair, found, filling)

    return Grid(
        pair=pair,
        is_pair=is_pair,
        lot=laid(model.lot.astype(float), 0).astype(np.int64),
        most=laid(model.most_kg * model.covers, 0.0),
        covers=laid(model.covers, 1.0),
        worth=laid(model.worth_per_kg, 0.0),
    )


def rows_of(model: Model, requests: Sequence[int]) -> Places:
    """The pairs of some requests."""
    chosen = np.zeros(len(model.need_kg), dtype=np.bool_)
    chosen[list(requests)] = True
    return np.flatnonzero(chosen[model.request])
