"""A region's plan: how far under the proven bound, in percent of it, and how long it takes.

Two thirds of the lots are sold in whole packages of up to three sizes.
"""

import time

from service.market.planning.model import violations_of
from service.market.planning.solving import Effort, solve
from tests.benchmarks.hop_market import hop_market
from tests.benchmarks.measure import Result

SECONDS = 20.0
GAP_PERCENT_MAX = 2.0
REGIONS = (
    {"requests": 400, "lots": 1000, "suits": 15},
    {"requests": 500, "lots": 1250, "suits": 30},
    {"requests": 2000, "lots": 5000, "suits": 30},
)


def run() -> list[Result]:
    """Plan regions of 6,000, 15,000 and 60,000 pairs of request and lot within 20 s of the clock."""
    return [result for region in REGIONS for result in _plan(**region)]


def _plan(*, requests: int, lots: int, suits: int) -> list[Result]:
    model = hop_market(requests=requests, lots=lots, suits=suits)
    began = time.perf_counter()
    effort = Effort(clock=lambda: time.perf_counter() - began, until=SECONDS)
    found = solve(model, effort, arrival=range(requests))
    seconds = time.perf_counter() - began
    violations = violations_of(model, found.mass_kg)
    if violations:
        raise AssertionError(violations)
    name = f"plan of {requests:,} requests and {lots:,} lots ({model.pairs:,} pairs)"
    figures = f"value {found.worth:,.0f} under {found.bound:,.0f}"
    return [
        Result(f"gap of a {name}, %", 100 * found.gap, GAP_PERCENT_MAX, figures),
        Result(f"seconds of a {name}, over {SECONDS:.0f}", seconds / SECONDS, 1.0, f"{seconds:.1f} s"),
    ]
