"""From a plan to a better one: some requests that share lots give everything back and share anew, as well as can be.

The gap between bound and plan falls apart into what each request gains less than at the prices, and what each lot
leaves over at its price; requests are chosen where most of it lies. The blocks are solved two at a time, in threads,
and count for the same plan; one whose lots were taken meanwhile is dropped.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from service.facts import Fact
from service.market.planning.allocation_bounds import Bound
from service.market.planning.allocation_exact import Solved, solve_pairs
from service.market.planning.allocation_model import Model, rows_of
from service.science.arrays import Flags, Numbers, Places

THREADS = 2
# A block takes so many requests, and of each its best lots at the prices; both grow when nothing more is found.
REQUESTS_IN_BLOCK, REQUESTS_IN_BLOCK_MAX = 40, 120
LOTS_IN_BLOCK, LOTS_IN_BLOCK_MAX = 8, 40
GROWS_AFTER = 40
BLOCK_GAP, BLOCK_SECONDS, BLOCK_NODES = 5e-3, 3.0, 2000
TO_USERS, LOOKS = 0.7, 2


class Search(Fact):
    """The plan as it stands, who takes from each lot, and the chance that chooses the blocks."""

    model: Model
    bound: Bound
    mass_kg: Numbers
    chance: "np.random.Generator"
    in_block: int = REQUESTS_IN_BLOCK
    lots_in_block: int = LOTS_IN_BLOCK
    stalled: int = 0
    kept: tuple[int, Flags] | None = None

    def better(
        self, *, rounds: int | None, goes_on: Callable[[float, int], bool], seconds_left: Callable[[], float]
    ) -> int:
        """Search until the rounds are over or it shall not go on; how many rounds there were."""
        done = 0
        repeatable = rounds is not None
        with ThreadPoolExecutor(THREADS) as threads:
            while self.model.pairs and (rounds is None or done < rounds):
                if not goes_on(self.model.worth(self.mass_kg), done):
                    break
                done += 1
                gained = self._round(threads, None if repeatable else seconds_left())
                self._grow(gained)
        return done

    def _round(self, threads: ThreadPoolExecutor, seconds: float | None) -> float:
        near = self._near()
        blocks = [self._block(near) for _ in range(THREADS)]
        blocks[1:] = [[r for r in block if r not in set(blocks[0])] for block in blocks[1:]]
        waiting = [threads.submit(self._solve, block, near.keeps, seconds) for block in blocks if block]
        solved = [one.result() for one in waiting]
        return sum(self._put(pairs, found) for pairs, found in solved)

    def _solve(
        self, block: Sequence[int], keeps: Flags, seconds: float | None
    ) -> tuple[Places, Solved | None]:
        rows = rows_of(self.model, block)
        pairs = rows[keeps[rows] | (self.mass_kg[rows] > 0)]
        free = self.model.stock_kg - self.model.taken_kg(self.mass_kg)
        free = free + np.bincount(self.model.lot[rows], self.mass_kg[rows], len(free))
        found = solve_pairs(
            self.model,
            pairs,
            free_kg=free,
            seconds=1e3 if seconds is None else max(0.05, min(BLOCK_SECONDS, seconds)),
            gap=BLOCK_GAP if self.stalled < GROWS_AFTER else BLOCK_GAP / 10,
            nodes=BLOCK_NODES if seconds is None else None,
        )
        return pairs, found

    def _put(self, pairs: Places, found: Solved | None) -> float:
        """Let a block's parcels stand in place of the old ones, if they gain and still fit."""
        if found is None:
            return 0.0
        change = found.mass_kg - self.mass_kg[pairs]
        gained = float(self.model.worth_per_kg[pairs] @ change)
        if gained <= 1e-6:
            return 0.0
        lots = self.model.lot[pairs]
        taken = self.model.taken_kg(self.mass_kg) + np.bincount(lots, change, len(self.model.stock_kg))
        if (taken[lots] > self.model.stock_kg[lots] + 1e-6).any():
            return 0.0
        self.mass_kg[pairs] = found.mass_kg
        return gained

    def _grow(self, gained: float) -> None:
        if gained > self.bound.worth * 1e-6:
            self.stalled = 0
            return
        self.stalled += 1
        if self.stalled % GROWS_AFTER == 0:
            self.in_block = min(REQUESTS_IN_BLOCK_MAX, self.in_block * 5 // 4)
            self.lots_in_block = min(LOTS_IN_BLOCK_MAX, self.lots_in_block + 3)

    def _near(self) -> "Near":
        model, prices = self.model, self.bound.prices
        gain_per_kg = model.worth_per_kg - prices[model.lot]
        keeps = self._keeps(gain_per_kg)
        got = np.bincount(model.request, gain_per_kg * self.mass_kg, len(model.need_kg))
        left = prices * (model.stock_kg - model.taken_kg(self.mass_kg))
        askers = np.bincount(model.lot, keeps, len(left))
        share = np.where(keeps, (left / np.maximum(askers, 1))[model.lot], 0.0)
        missed = self.bound.gains - got + np.bincount(model.request, share, len(got))
        missed = np.maximum(missed, 0.0) + 1e-9
        return Near(model=model, keeps=keeps, takes=self.mass_kg > 0, missed=missed)

    def _keeps(self, gain_per_kg: Numbers) -> Flags:
        """The best pairs of each request at the prices; told once for as many."""
        if self.kept is None or self.kept[0] != self.lots_in_block:
            promise = np.where(gain_per_kg > 0, gain_per_kg * self.model.most_kg, gain_per_kg)
            self.kept = self.lots_in_block, _best_of_each(self.model, promise, self.lots_in_block)
        return self.kept[1]

    def _block(self, near: "Near") -> list[int]:
        """Requests that want each other's lots, begun where much is missed."""
        count = len(self.model.need_kg)
        begin = int(self.chance.choice(count, p=near.missed / near.missed.sum()))
        block, known = [begin], {begin}
        for _ in range(20 * self.in_block):
            if len(block) >= min(self.in_block, count):
                break
            lots = near.lots_of(block[int(self.chance.integers(len(block)))])
            if len(lots) == 0:
                continue
            lot = int(lots[int(self.chance.integers(len(lots)))])
            takers = near.takers_of(lot)
            those = takers if len(takers) and self.chance.random() < TO_USERS else near.askers_of(lot)
            looked = [int(those[int(self.chance.integers(len(those)))]) for _ in range(LOOKS)]
            other = max(looked, key=lambda request: near.missed[request])
            if other not in known:
                known.add(other)
                block.append(other)
        return block


class Near:
    """Who wants which lot, and who takes from it: for choosing blocks."""

    def __init__(self, *, model: Model, keeps: Flags, takes: Flags, missed: Numbers) -> None:
        self.keeps, self.missed = keeps, missed
        self._begins = np.searchsorted(model.request, np.arange(len(model.need_kg) + 1))
        self._lot = model.lot
        self._askers = _by_lot(model, np.flatnonzero(keeps | takes))
        self._takers = _by_lot(model, np.flatnonzero(takes))

    def lots_of(self, request: int) -> Places:
        """The lots that a request would take first."""
        rows = np.arange(self._begins[request], self._begins[request + 1])
        return self._lot[rows[self.keeps[rows]]]

    def askers_of(self, lot: int) -> Places:
        """The requests that would take a lot first, or take it."""
        return _slice(self._askers, lot)

    def takers_of(self, lot: int) -> Places:
        """The requests that take from a lot."""
        return _slice(self._takers, lot)


def _by_lot(model: Model, pairs: Places) -> tuple[Places, Places]:
    order = pairs[np.argsort(model.lot[pairs], kind="stable")]
    begins = np.searchsorted(model.lot[order], np.arange(len(model.stock_kg) + 1))
    return model.request[order], begins


def _slice(by_lot: tuple[Places, Places], lot: int) -> Places:
    requests, begins = by_lot
    return requests[begins[lot] : begins[lot + 1]]


def _best_of_each(model: Model, promise: Numbers, how_many: int) -> Flags:
    """The pairs that promise most of each request."""
    order = np.lexsort((-promise, model.request))
    begins = np.searchsorted(model.request, np.arange(len(model.need_kg)))
    rank: Places = np.empty(model.pairs, dtype=np.int64)
    rank[order] = np.arange(model.pairs) - begins[model.request[order]]
    kept: Flags = rank < how_many
    return kept
