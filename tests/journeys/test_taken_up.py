"""A serving process that is killed while it plans the region: another one takes the plan up, and ends it."""

import os
import random
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from typing import Any

import sqlalchemy as sa

from service.records.session import Records
from service.records.tables import AllocationRow
from tests.builders import World
from tests.conftest import ROOT
from tests.factories import TODAY

# More pairs than are solved at once, so that the search takes all the time it is given, and beats meanwhile.
LOTS = REQUESTS = 44
SEARCHED_S = 5
WAIT_S = 60


@contextmanager
def serving(records: Records, *, on: date) -> Iterator[subprocess.Popen[bytes]]:
    """The service as an operator starts it, in processes of its own; killed at the end without a word."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = str(probe.getsockname()[1])
    plain = {name: value for name, value in os.environ.items() if not name.startswith("OASTBOOK_")}
    url = records.engine.url.render_as_string(hide_password=False)
    process = subprocess.Popen(
        [sys.executable, "-m", "service", "serve", "--port", port],
        cwd=ROOT,
        env={**plain, "OASTBOOK_DATABASE_URL": url, "OASTBOOK_TODAY": on.isoformat()},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        yield process
    finally:
        kill(process)


def kill(process: subprocess.Popen[bytes]) -> None:
    """Kill the process that was started and those that it started, once."""
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


def stock_a_region(world: World) -> None:
    """Lots in whole packages, and requests that share them out in many ways."""
    chance = random.Random(1)
    world.grower()
    world.brewery()
    for _ in range(LOTS):
        boxes, told = chance.randint(2, 9), {"price_per_kg": chance.randint(15, 40)}
        packages = [{"kind": "box", "count": boxes, "net_kg": 10}]
        world.listed(mass_kg=10 * boxes, packages=packages, sold_in="whole_packages", **told)
    for _ in range(REQUESTS):
        needed = {"needed_on": "2027-02-01", "mass_kg": chance.randint(15, 95)}
        wanted = {"role": "aroma", "deliveries": [needed], "lots_max": chance.randint(2, 4)}
        assert world.post("/v1/requests", wanted, who="FINCH").status_code == 201


def row(records: Records) -> Any:
    """The one allocation as it stands in the books."""
    told = (AllocationRow.state, AllocationRow.runner, AllocationRow.starts, AllocationRow.beat_at)
    return records.read(lambda session: session.execute(sa.select(*told)).one())


def until(records: Records, holds: Callable[[Any], bool]) -> Any:
    """The allocation as soon as that holds of it."""
    ends = time.monotonic() + WAIT_S
    while time.monotonic() < ends:
        found = row(records)
        if holds(found):
            return found
        if found.state in ("done", "failed"):
            break
        time.sleep(0.02)
    raise AssertionError(f"still {row(records)}")


def test_a_plan_outlives_the_process_that_was_killed_over_it(committed_world: World) -> None:
    world = committed_world
    stock_a_region(world)
    ordered = world.post("/v1/allocations", {"seconds_max": SEARCHED_S}, who="specialist")
    assert ordered.status_code == 202

    with serving(world.records, on=TODAY) as first:
        begun = until(world.records, lambda found: found.state == "running")
        until(world.records, lambda found: found.beat_at > begun.beat_at)
        kill(first)
    left = row(world.records)
    assert (left.state, left.starts, left.runner) == ("running", 1, begun.runner)

    # On the next day's calendar the dead one has been silent for long.
    with serving(world.records, on=TODAY + timedelta(days=1)):
        ended = until(world.records, lambda found: found.state in ("done", "failed"))

    assert (ended.state, ended.starts) == ("done", 2)
    assert ended.runner != begun.runner
    told = world.get(f"/v1/allocations/{ordered.json['code']}", who="specialist").json
    assert told["state"] == "done"
    assert len(told["plan"]["requests"]) == REQUESTS
