"""Work that no caller waits for: done by a thread of a process that serves, and taken up after a crash."""

import time
from datetime import timedelta

from service.background import Background
from service.market.planning.allocations import Allocation, AllocationOrder
from service.records.planning import allocations
from service.records.planning.allocations import SILENT_FOR
from service.records.session import Records
from tests.factories import NOW

ASKED = Allocation(order=AllocationOrder(rounds_max=1), asked_at=NOW, asked_by="specialist")


def state_when_over(records: Records, code: str) -> str:
    for _ in range(400):
        state = records.read(lambda session: allocations.get(session, code)).state
        if state in ("done", "failed"):
            return state
        time.sleep(0.02)
    return "still not over"


def test_a_thread_works_on_all_that_waits_and_on_what_a_dead_process_left(committed: Records) -> None:
    left, waiting = (committed.write(lambda session: allocations.add(session, ASKED)).code for _ in range(2))
    dead = NOW - SILENT_FOR - timedelta(seconds=1)
    assert committed.write(lambda session: allocations.take_up(session, runner="dead", now=dead))

    background = Background(committed, lambda: NOW)
    background.wake()
    background.wake()

    assert [state_when_over(committed, code) for code in (left, waiting)] == ["done", "done"]
