"""Allocations in the records, and whose turn it is."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.facts import replace
from service.market.planning.allocation_planning import make_plan
from service.market.planning.allocations import Allocation, AllocationOrder
from service.records.planning import allocations
from service.records.planning.allocations import SILENT_FOR, STARTS_MAX
from service.records.session import Records
from service.records.tables import AllocationRow
from tests.factories import NOW
from tests.market.planning.allocation_regions import a_lot, a_region, an_asker

ASKED = Allocation(order=AllocationOrder(rule="pro_rata", seed=7), asked_at=NOW, asked_by="specialist")
LATER = NOW + SILENT_FOR + timedelta(seconds=1)


def test_an_allocation_waits_is_worked_on_and_comes_back_with_its_plan(session: Session) -> None:
    region = a_region([an_asker(1)], [a_lot("ALDER-2026-01")])
    plan = make_plan(region, ASKED.order, clock=lambda: 0.0, tell=lambda words: None)
    asked = allocations.add(session, ASKED)
    assert allocations.get(session, asked.code) == asked == replace(ASKED, code=asked.code)
    assert allocations.is_waiting(session, now=NOW)

    turn = allocations.take_up(session, runner="a", now=NOW)
    assert turn is not None
    assert (turn.code, turn.order) == (asked.code, ASKED.order)
    assert allocations.region_of(session, turn) is None
    assert allocations.keep_region(session, turn, region)
    assert allocations.beat(session, turn, now=NOW, progress="half way")
    session.expire_all()
    assert allocations.get(session, asked.code).progress == "half way"
    assert not allocations.is_waiting(session, now=NOW)

    assert allocations.finish(session, turn, plan, now=LATER)
    session.expire_all()
    done = allocations.get(session, asked.code)
    assert (done.state, done.plan, done.started_at, done.finished_at) == ("done", plan, NOW, LATER)
    assert [(a.code, a.plan) for a, _ in allocations.search(session, after=None, limit=5)] == [
        (asked.code, None)
    ]
    allocations.accept(session, asked.code, at=LATER, by="specialist")
    assert allocations.get(session, asked.code).accepted_by == "specialist"


def test_one_is_worked_on_at_a_time_and_who_fell_silent_loses_the_turn(session: Session) -> None:
    region = a_region([an_asker(1)], [a_lot("ALDER-2026-01")])
    first, second = (allocations.add(session, ASKED).code for _ in range(2))
    turn = allocations.take_up(session, runner="a", now=NOW)
    assert turn is not None
    allocations.keep_region(session, turn, region)

    assert allocations.take_up(session, runner="b", now=NOW) is None
    taken_over = allocations.take_up(session, runner="b", now=LATER)

    assert taken_over is not None
    assert (taken_over.code, allocations.region_of(session, taken_over)) == (first, region)
    assert not allocations.beat(session, turn, now=LATER, progress="still here")
    assert allocations.fail(session, taken_over, problem="no luck", now=LATER)
    following = allocations.take_up(session, runner="b", now=LATER)
    assert following is not None
    assert following.code == second


def test_an_allocation_under_which_workers_die_is_given_up(session: Session) -> None:
    code = allocations.add(session, ASKED).code
    moment = NOW
    for _ in range(STARTS_MAX):
        assert allocations.take_up(session, runner="a", now=moment) is not None
        moment += SILENT_FOR + timedelta(seconds=1)

    assert allocations.take_up(session, runner="a", now=moment) is None
    session.expire_all()
    assert allocations.get(session, code).state == "failed"
    assert "ended 3 times" in str(allocations.get(session, code).problem)


def test_workers_that_race_for_a_turn_get_one_between_them(committed: Records) -> None:
    for _ in range(3):
        committed.write(lambda session: allocations.add(session, ASKED))

    def take(name: str) -> object:
        return committed.write(lambda session: allocations.take_up(session, runner=name, now=NOW))

    with ThreadPoolExecutor(8) as threads:
        turns = list(threads.map(take, "abcdefgh"))

    assert sum(turn is not None for turn in turns) == 1


def test_a_region_that_an_older_version_kept_otherwise_is_read_anew(session: Session) -> None:
    allocations.add(session, ASKED)
    turn = allocations.take_up(session, runner="a", now=NOW)
    assert turn is not None
    session.execute(sa.update(AllocationRow).values(region={"fields": "of old"}))

    assert allocations.region_of(session, turn) is None


def test_get_knows_no_allocation_that_was_never_asked_for(session: Session) -> None:
    with pytest.raises(NotFound):
        allocations.get(session, "ALLOCATION-0099")
