"""The clock: the machine's, one on a fixed date, one that runs from a moment on."""

from datetime import UTC, date, datetime, timedelta

from service.clock import clock_from, system_clock

EVENING = datetime(2030, 5, 1, 23, 55, tzinfo=UTC)


def test_without_a_start_it_is_the_machines_clock() -> None:
    assert clock_from(None) is system_clock
    assert system_clock().tzinfo is UTC


def test_a_date_stays_while_the_time_of_day_runs() -> None:
    machine = iter([EVENING, EVENING + timedelta(minutes=10)])
    clock = clock_from(date(2026, 11, 25), lambda: next(machine))

    assert clock() == datetime(2026, 11, 25, 23, 55, tzinfo=UTC)
    assert clock() == datetime(2026, 11, 25, 0, 5, tzinfo=UTC)


def test_from_a_moment_on_it_runs_past_midnight() -> None:
    machine = iter([EVENING, EVENING, EVENING + timedelta(minutes=10)])
    start = datetime(2026, 11, 25, 23, 58, tzinfo=UTC)
    clock = clock_from(start, lambda: next(machine))

    assert [clock(), clock()] == [start, start + timedelta(minutes=10)]
