"""A page of 20 out of many listed lots, nearest first, against its floor: view, SELECT and encoding alone."""

import json
import sqlite3
import sys
from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from flask import Flask

from service.app import create_app
from service.records.session import Records
from service.settings import Settings
from tests.benchmarks.measure import Result, best_seconds, compare
from tests.benchmarks.region import TODAY, fill

LOTS = 100_000
PLACE = "near_latitude_deg=45&near_longitude_deg=-63.5"
PAGE = f"/v1/lots?cultivar=kind-0&sort=distance&{PLACE}"


def run() -> list[Result]:
    """Measure the first page against its floor, and a deep page against the first."""
    records = fill(LOTS)
    ours = _getter(records)
    body = ours(PAGE)
    deep = body
    for _ in range(40):
        deep = ours(f"{PAGE}&cursor={deep['next']}")
    address = f"{PAGE}&cursor={deep['next']}"
    floor = _floor(records, lambda: ours(PAGE), body)
    return [
        compare("search page, nearest first, of 100,000 lots", lambda: ours(PAGE), floor, 2.0),
        compare("search page 42 against page 1", lambda: ours(address), lambda: ours(PAGE), 1.3),
    ]


def growth() -> None:
    """Print how the page grows with the number of lots: `python -m tests.benchmarks.bench_search`."""
    for lots in (10_000, 100_000, 1_000_000):
        records = fill(lots)
        ours = _getter(records)
        page_s = best_seconds(lambda ours=ours: ours(PAGE), rounds=5)[0]  # type: ignore[misc]
        print(f"{lots:>9} lots: {1000 * page_s:8.1f} ms a page", flush=True)
        records.close()


def _getter(records: Records) -> Callable[[str], Any]:
    app = create_app(Settings(today=TODAY), records=records)
    client = app.test_client()

    def get(path: str) -> Any:
        answer = client.get(path)
        assert answer.status_code == 200, answer.text
        return answer.json

    return get


def _floor(records: Records, request: Callable[[], object], body: Any) -> Callable[[], object]:
    """An empty view, the same SELECT as raw SQL, and the encoding of the same body."""
    seen: list[tuple[str, Any]] = []

    def note(_c: object, _cursor: object, statement: str, parameters: Any, *_: object) -> None:
        if "sort_key" in statement:
            seen.append((statement, parameters))

    sa.event.listen(records.engine, "before_cursor_execute", note)
    request()
    sa.event.remove(records.engine, "before_cursor_execute", note)
    statement, parameters = seen[-1]
    raw = sqlite3.connect(str(records.engine.url.database))
    empty = Flask("empty")
    empty.add_url_rule("/", view_func=lambda: "")
    client = empty.test_client()

    def work() -> object:
        client.get("/")
        raw.execute(statement, parameters).fetchall()
        return json.loads(json.dumps(body))

    return work


if __name__ == "__main__":
    sys.exit(growth())
