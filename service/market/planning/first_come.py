"""One request after another takes the parcels that are worth most to it of what is left.

In order of arrival this is first come, first served: the plan that every other is compared with.
"""

from collections.abc import Sequence

import numpy as np

from service.facts import Fact
from service.market.goods.stock import to_the_gram
from service.market.planning.model import LAST_DIGIT, Model, in_packages, in_steps
from service.science.arrays import Numbers, Places


def take_in_turn(model: Model, order: Sequence[int]) -> Numbers:
    """The plan in which requests take in this order."""
    turns = _Turns(model)
    left_kg = model.stock_kg.copy()
    mass_kg = model.nothing
    for request in order:
        own = turns.of(request)
        mass_kg[own.parts] = own.take(left_kg, mass_kg[own.parts])
    return mass_kg


def exchange_in_turn(model: Model, mass_kg: Numbers, order: Sequence[int]) -> Numbers:
    """The plan after each request took more, or gave its parcels back and took anew, where that was worth more."""
    turns = _Turns(model)
    left_kg = model.stock_kg - model.taken_kg(mass_kg)
    exchanged = mass_kg.copy()
    for request in order:
        own = turns.of(request)
        before = exchanged[own.parts]
        more = own.take(left_kg.copy(), before)
        own.put_back(left_kg, before)
        anew = own.take(left_kg.copy(), np.zeros(len(before)))
        after = anew if own.worth(anew) > own.worth(more) + LAST_DIGIT else more
        exchanged[own.parts] = after
        own.put_back(left_kg, -after)
    return exchanged


def pack_in_turn(model: Model, parcel_kg: Numbers) -> Numbers:
    """The plan that gives each pair its parcel as far as whole packages and weighing steps allow."""
    turns = _Turns(model)
    left_kg = model.stock_kg.copy()
    mass_kg = model.nothing
    for request in range(model.requests):
        own = turns.of(request)
        given = own.packed(to_the_gram(parcel_kg[own.pairs]), left_kg)
        enough = np.bincount(own.pair, given, len(own.covers)) >= own.least_kg - LAST_DIGIT
        given = np.where(enough[own.pair], given, 0.0)
        mass_kg[own.parts] = given
        left_kg[own.goods] -= given
    return mass_kg


class _Turns:
    """Where each request's pairs and parts stand."""

    def __init__(self, model: Model) -> None:
        self._model = model
        self._pairs = np.searchsorted(model.request, np.arange(model.requests + 1)).tolist()
        self._parts = np.searchsorted(model.pair, self._pairs).tolist()

    def of(self, request: int) -> "_Turn":
        model = self._model
        pairs = slice(self._pairs[request], self._pairs[request + 1])
        parts = slice(self._parts[request], self._parts[request + 1])
        pair = model.pair[parts] - pairs.start
        return _Turn(
            need_kg=float(model.need_kg[request]),
            lots_max=int(model.lots_max[request]),
            pairs=pairs,
            parts=parts,
            pair=pair,
            goods=model.goods[parts],
            size_kg=model.size_kg[model.goods[parts]],
            rank=np.arange(len(pair)) - np.searchsorted(pair, pair),
            worth_per_kg=model.worth_per_kg[pairs],
            covers=model.covers[pairs],
            least_kg=model.least_kg[pairs],
            most_kg=model.most_kg[pairs],
        )


class _Turn(Fact, frozen=True, kw_only=True):
    """One request's pairs, and the parts of each: `rank` 0 is the largest package of its lot."""

    need_kg: float
    lots_max: int
    pairs: slice
    parts: slice
    pair: Places
    goods: Places
    size_kg: Numbers
    rank: Places
    worth_per_kg: Numbers
    covers: Numbers
    least_kg: Numbers
    most_kg: Numbers

    def worth(self, mass_kg: Numbers) -> float:
        """What these parts are worth."""
        return float(self.worth_per_kg[self.pair] @ mass_kg)

    def put_back(self, left_kg: Numbers, mass_kg: Numbers) -> None:
        """Give goods back. An entry of goods belongs to one lot, so no two parts share one."""
        left_kg[self.goods] += mass_kg

    def take(self, left_kg: Numbers, held_kg: Numbers) -> Numbers:
        """Take lot by lot what is worth most beside what is held, as long as the need and the number of lots allow it.

        What is taken leaves `left_kg`; what comes back is what is held and what was taken.
        """
        took = held_kg.copy()
        parcel_kg = np.bincount(self.pair, took, len(self.covers))
        while len(took):
            need_kg = self.need_kg - float(self.covers @ parcel_kg)
            may = (parcel_kg > 0) | (int((parcel_kg > 0).sum()) < self.lots_max)
            limit_kg = np.where(may, np.minimum(self.most_kg - parcel_kg, need_kg / self.covers), 0.0)
            given = self.packed(limit_kg, left_kg)
            more_kg = np.bincount(self.pair, given, len(parcel_kg))
            enough = parcel_kg + more_kg >= self.least_kg - LAST_DIGIT
            worth = np.where(enough, more_kg * self.worth_per_kg, 0.0)
            best = int(worth.argmax())
            if worth[best] <= 0:
                break
            own = np.where(self.pair == best, given, 0.0)
            took += own
            left_kg[self.goods] -= own
            parcel_kg[best] += more_kg[best]
        return took

    def packed(self, limit_kg: Numbers, left_kg: Numbers) -> Numbers:
        """What each lot could give up to a limit: the largest packages first."""
        given: Numbers = np.zeros(len(self.pair))
        rest_kg = limit_kg.copy()
        for rank in range(int(self.rank.max(initial=-1)) + 1):
            at = np.flatnonzero(self.rank == rank)
            pair, size_kg = self.pair[at], self.size_kg[at]
            most_kg = np.maximum(0.0, np.minimum(rest_kg[pair], left_kg[self.goods[at]]))
            given[at] = in_packages(most_kg, size_kg)
            if rank == 0:
                # A lot sold in any mass has one part.
                weighed = in_steps(most_kg, least_kg=self.least_kg[pair], most_kg=self.most_kg[pair])
                given[at] += np.where(size_kg > 0, 0.0, weighed)
            rest_kg[pair] -= given[at]
        return given
