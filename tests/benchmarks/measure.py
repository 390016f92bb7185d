"""Timing for benchmarks: ratios within one run, best of several, the two sides taking turns."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Result:
    """One ratio and the gate it must pass: at most, or at least, this much."""

    name: str
    ratio: float
    gate: float
    detail: str
    side: Literal["at most", "at least"] = "at most"

    @property
    def passes(self) -> bool:
        """Whether the ratio lies on the right side of its gate."""
        return self.ratio <= self.gate if self.side == "at most" else self.ratio >= self.gate


def best_seconds(*works: Callable[[], object], rounds: int = 7) -> list[float]:
    """Time several works in turns, so that a noisy moment strikes all of them, and keep the best of each."""
    best = [float("inf")] * len(works)
    for _ in range(rounds):
        for place, work in enumerate(works):
            began = time.perf_counter()
            work()
            best[place] = min(best[place], time.perf_counter() - began)
    return best


def compare(
    name: str, ours: Callable[[], object], floor: Callable[[], object], gate: float, rounds: int = 7
) -> Result:
    """Give how many times longer our work takes than its floor."""
    our_s, floor_s = best_seconds(ours, floor, rounds=rounds)
    return Result(name, our_s / floor_s, gate, f"{1000 * our_s:.1f} ms over {1000 * floor_s:.1f} ms")
