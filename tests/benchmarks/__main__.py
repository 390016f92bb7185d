"""Run the benchmarks: ``python -m tests.benchmarks [NAME ...]``; exit code 1 when a gate fails.

Every ``bench_NAME.py`` in this folder has a ``run()`` that gives a list of results.
"""

import importlib
import sys
from pathlib import Path

from tests.benchmarks.measure import Result

HERE = Path(__file__).parent


def names() -> list[str]:
    """Name every benchmark of this folder."""
    return sorted(path.stem.removeprefix("bench_") for path in HERE.glob("bench_*.py"))


def show(result: Result) -> None:
    """Print one row of the table."""
    verdict = "pass" if result.passes else "FAIL"
    gate = f"{result.side} {result.gate:g}"
    print(f"{verdict}  {result.name:<44} {result.ratio:>8.2f}  {gate:<14} {result.detail}", flush=True)


def main(wanted: list[str]) -> int:
    """Run the benchmarks wanted, or all of them."""
    unknown = set(wanted) - set(names())
    if unknown:
        print(f"no such benchmark: {', '.join(sorted(unknown))}; there are {', '.join(names())}")
        return 2
    print(f"      {'what':<44} {'ratio':>8}  {'gate':<14} best times")
    results: list[Result] = []
    for name in wanted or names():
        for result in importlib.import_module(f"tests.benchmarks.bench_{name}").run():
            show(result)
            results.append(result)
    return 0 if all(result.passes for result in results) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
