"""The columns of a plan: requests, lots, the pairs of them that may be, and what each pair may take.

A pair is a lot that suits a request. Its parcel is nothing, or lies between `least_kg` and `most_kg`. A lot sold in
any mass has one entry of goods; a lot sold in whole packages has one for each size of package. A pair has one part
for each entry of its lot. A plan is an array with the mass of every part. A request takes from at most `lots_max`
lots and covers no more than its need. The worth of a plan is the sum of mass times worth per kilogram.
"""

from collections.abc import Iterator

import numpy as np

from service.facts import Fact
from service.market.goods.stock import to_the_gram
from service.reference.assumptions import get_assumption
from service.science.arrays import Flags, Numbers, Places

# More lots than any request names: no limit.
ANY_NUMBER = 1_000_000
GRAM = 0.001
LAST_DIGIT = 1e-9
# So many weighing steps are as good as the exact mass.
STEPS_AS_PRECISE = 100
# A need counted in another lot's kilograms is kept to the last gram of a solver.
OVER_KG = 1e-5


class Model(Fact, frozen=True, kw_only=True):
    """The columns. Pairs stand in the order of their requests, parts in the order of their pairs, largest first.

    `origin` is the place of each pair among those that were given to `make_model`.
    """

    need_kg: Numbers
    lots_max: Places
    stock_kg: Numbers
    size_kg: Numbers
    lot_of_goods: Places
    request: Places
    lot: Places
    worth_per_kg: Numbers
    covers: Numbers
    least_kg: Numbers
    most_kg: Numbers
    origin: Places
    pair: Places
    goods: Places

    @property
    def requests(self) -> int:
        """How many requests there are."""
        return len(self.need_kg)

    @property
    def pairs(self) -> int:
        """How many pairs there are."""
        return len(self.request)

    @property
    def lot_kg(self) -> Numbers:
        """What each lot has, all its packages together."""
        return np.bincount(self.lot_of_goods, self.stock_kg).astype(float)

    @property
    def nothing(self) -> Numbers:
        """The plan that gives nobody anything."""
        return np.zeros(len(self.pair))

    def parcels_kg(self, mass_kg: Numbers) -> Numbers:
        """The parcel of each pair."""
        return np.bincount(self.pair, mass_kg, self.pairs).astype(float)

    def worth(self, mass_kg: Numbers) -> float:
        """What a plan is worth."""
        return float(self.worth_per_kg[self.pair] @ mass_kg)

    def taken_kg(self, mass_kg: Numbers) -> Numbers:
        """What a plan takes of each entry of goods."""
        return np.bincount(self.goods, mass_kg, len(self.stock_kg)).astype(float)

    def covered_kg(self, mass_kg: Numbers) -> Numbers:
        """What a plan covers of each need."""
        covered = self.covers * self.parcels_kg(mass_kg)
        return np.bincount(self.request, covered, self.requests).astype(float)

    def lots_used(self, mass_kg: Numbers) -> Places:
        """From how many lots each request takes."""
        return np.bincount(self.request[self.parcels_kg(mass_kg) > 0], minlength=self.requests)


def make_model(
    *,
    need_kg: Numbers,
    lots_max: Places,
    stock_kg: Numbers,
    size_kg: Numbers,
    lot_of_goods: Places,
    request: Places,
    lot: Places,
    worth_per_kg: Numbers,
    covers: Numbers,
    least_kg: Numbers,
) -> Model:
    """Put the columns in order; a pair whose least parcel is more than it could give is left out.

    `size_kg` is the mass of one package, and 0 for goods sold in any mass.
    """
    lots = int(lot_of_goods.max(initial=-1)) + 1
    entries = np.bincount(lot_of_goods, minlength=lots)
    size = np.zeros(lots)
    size[lot_of_goods] = size_kg
    # Several sizes have no common step here: the sum of the parts decides then.
    step = np.where(entries == 1, size, 0.0)[lot]
    whole_lot, whole_need = np.bincount(lot_of_goods, stock_kg, lots)[lot], need_kg[request] / covers
    most = np.minimum(whole_need, whole_lot)
    most = np.where(step > 0, in_packages(most, step), to_the_gram(most))
    # A need counted in another lot's kilograms asks for no mass to the gram.
    weighing_kg = get_assumption("parcel_step_kg").value
    coarse = (step == 0) & (covers != 1) & (whole_need < whole_lot) & (most >= STEPS_AS_PRECISE * weighing_kg)
    most = np.where(coarse, to_the_gram(np.floor(most / weighing_kg + LAST_DIGIT) * weighing_kg), most)
    smallest = np.where(step > 0, step, np.minimum(weighing_kg, most))
    least = np.maximum(np.maximum(least_kg, smallest), GRAM)
    may = (most >= least - LAST_DIGIT) & (worth_per_kg > 0) & (lots_max[request] > 0)
    kept = np.flatnonzero(may)
    kept = kept[np.argsort(request[kept], kind="stable")]
    by_lot = np.lexsort((-size_kg, lot_of_goods))
    parts = entries[lot[kept]]
    pair = np.repeat(np.arange(len(kept)), parts)
    within = np.arange(len(pair)) - np.repeat(np.cumsum(parts) - parts, parts)
    begins = np.cumsum(entries) - entries
    return Model(
        need_kg=need_kg,
        lots_max=lots_max,
        stock_kg=stock_kg,
        size_kg=size_kg,
        lot_of_goods=lot_of_goods,
        request=request[kept],
        lot=lot[kept],
        worth_per_kg=worth_per_kg[kept],
        covers=covers[kept],
        least_kg=least[kept],
        most_kg=most[kept],
        origin=kept,
        pair=pair,
        goods=by_lot[begins[lot[kept]][pair] + within],
    )


def narrowed(
    model: Model,
    *,
    among: Flags | None = None,
    need_kg: Numbers | None = None,
    stock_kg: Numbers | None = None,
) -> Model:
    """The same with some requests only, smaller needs or less stock; `origin` is the place in this model."""
    return make_model(
        need_kg=model.need_kg if need_kg is None else need_kg,
        lots_max=model.lots_max if among is None else np.where(among, model.lots_max, 0),
        stock_kg=model.stock_kg if stock_kg is None else stock_kg,
        size_kg=model.size_kg,
        lot_of_goods=model.lot_of_goods,
        request=model.request,
        lot=model.lot,
        worth_per_kg=model.worth_per_kg,
        covers=model.covers,
        least_kg=model.least_kg,
    )


def widened(model: Model, part: Model, mass_kg: Numbers) -> Numbers:
    """A plan of a narrowed model as a plan of the model it came from."""
    mass = model.nothing
    first = np.searchsorted(model.pair, np.arange(model.pairs))
    own_first = np.searchsorted(part.pair, np.arange(part.pairs))
    mass[first[part.origin][part.pair] + np.arange(len(part.pair)) - own_first[part.pair]] = mass_kg
    return mass


def in_packages(mass_kg: Numbers, size_kg: Numbers) -> Numbers:
    """The mass of the whole packages that fit into a mass; nothing where the size is 0.

    >>> in_packages(np.array([49.0, 49.0]), np.array([20.0, 0.0])).tolist()
    [40.0, 0.0]

    """
    size = np.where(size_kg > 0, size_kg, np.inf)
    packages: Numbers = np.floor(mass_kg / size + LAST_DIGIT)
    return packages * size_kg


def in_steps(mass_kg: Numbers, *, least_kg: Numbers, most_kg: Numbers) -> Numbers:
    """A mass sold by weight, in the steps it is weighed in: never more, and the least and the most as they are.

    >>> low, high = np.array([5.0, 5.0]), np.array([37.427, 40.0])
    >>> in_steps(np.array([37.427, 37.427]), least_kg=low, most_kg=high).tolist()
    [37.427, 37.4]

    """
    step = get_assumption("parcel_step_kg").value
    weighed = np.round(np.floor(mass_kg / step + 1e-6) * step, 3)
    stepped = np.where(mass_kg >= least_kg, np.maximum(weighed, least_kg), weighed)
    return np.where(mass_kg >= most_kg - LAST_DIGIT, to_the_gram(most_kg), to_the_gram(stepped))


def violations_of(model: Model, mass_kg: Numbers) -> list[str]:
    """Every limit that a plan breaks, computed from the columns alone, without a solver."""
    return [*_of_parcels(model, mass_kg), *_of_parts(model, mass_kg), *_of_sums(model, mass_kg)]


def _of_parcels(model: Model, mass_kg: Numbers) -> Iterator[str]:
    parcel_kg = model.parcels_kg(mass_kg)
    for place in np.flatnonzero(parcel_kg != 0).tolist():
        mass = float(parcel_kg[place])
        where = f"request {model.request[place]} from lot {model.lot[place]}"
        if not mass >= model.least_kg[place] - LAST_DIGIT:
            yield f"{where}: {mass} kg is under the least parcel, {model.least_kg[place]} kg"
        if mass > model.most_kg[place] + LAST_DIGIT:
            yield f"{where}: {mass} kg is over the most, {model.most_kg[place]} kg"


def _of_parts(model: Model, mass_kg: Numbers) -> Iterator[str]:
    for place in np.flatnonzero(mass_kg != 0).tolist():
        mass, size = float(mass_kg[place]), float(model.size_kg[model.goods[place]])
        where = f"request {model.request[model.pair[place]]} from lot {model.lot[model.pair[place]]}"
        if mass < 0 or abs(mass * 1000 - round(mass * 1000)) > 1e-3:
            yield f"{where}: {mass} kg is no whole number of grams"
        if size > 0 and abs(mass / size - round(mass / size)) > 1e-6:
            yield f"{where}: {mass} kg is no whole number of packages of {size} kg"


def _of_sums(model: Model, mass_kg: Numbers) -> Iterator[str]:
    taken_g = np.zeros(len(model.stock_kg), dtype=np.int64)
    np.add.at(taken_g, model.goods, np.rint(mass_kg * 1000).astype(np.int64))
    for goods in np.flatnonzero(taken_g > np.rint(model.stock_kg * 1000)).tolist():
        yield (
            f"lot {model.lot_of_goods[goods]} gives {taken_g[goods] / 1000} kg of the {model.stock_kg[goods]} kg"
            f" it has in packages of {model.size_kg[goods]} kg"
        )
    covered = model.covered_kg(mass_kg)
    for request in np.flatnonzero(covered > model.need_kg + OVER_KG).tolist():
        yield f"request {request} gets {covered[request]} kg and needs {model.need_kg[request]} kg"
    lots = model.lots_used(mass_kg)
    for request in np.flatnonzero(lots > model.lots_max).tolist():
        yield f"request {request} takes from {lots[request]} lots, at most {model.lots_max[request]}"
