"""A region's plan within a minute: how far under the bound, in percent of it, and the feasibility checked apart.

`python -m tests.benchmarks.bench_allocation` prints the gap as the seconds pass.
"""

import sys
import time
from collections.abc import Callable

from service.market.planning.allocation_model import faults_of
from service.market.planning.allocation_solving import Effort, Solution, solve
from tests.benchmarks.hop_market import hop_market
from tests.benchmarks.measure import Result

SECONDS = 60.0
GAP_PERCENT_MAX = 3.0


def run() -> list[Result]:
    """Plan 2,000 requests against 5,000 lots, about 30 lots each, within a minute of the clock, building included."""
    found, seconds = plan()
    return [
        Result(
            "gap of a plan of 2,000 requests and 5,000 lots, %",
            100 * found.gap,
            GAP_PERCENT_MAX,
            f"value {found.worth:,.0f} under {found.bound:,.0f} after {seconds:.1f} s, {found.rounds} rounds",
        ),
        Result("seconds of that plan, over a minute", seconds / SECONDS, 1.0, f"{seconds:.1f} s"),
    ]


def plan(tell: Callable[[str], None] = lambda words: None) -> tuple[Solution, float]:
    """The plan and the seconds it took in all."""
    began = time.perf_counter()
    model = hop_market()
    # A block under way is waited for, and the plan is checked.
    effort = Effort(clock=lambda: time.perf_counter() - began, until=SECONDS - 3, tell=tell)
    found = solve(model, effort)
    faults = faults_of(model, found.mass_kg)
    if faults:
        raise AssertionError(faults)
    return found, time.perf_counter() - began


def growth() -> None:
    """Print how the plan comes along."""
    began = time.perf_counter()
    found, seconds = plan(lambda words: print(f"{time.perf_counter() - began:6.1f} s  {words}", flush=True))
    print(f"{seconds:.1f} s: value {found.worth:,.0f}, bound {found.bound:,.0f} ({found.bound_name})")


if __name__ == "__main__":
    sys.exit(growth())
