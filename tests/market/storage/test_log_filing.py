"""Filing a logger's file: what counts of it, what is refused, what a correction does."""

from datetime import date

import pytest

from service.errors import AlreadyExists, IllegalStep, InvalidRequest, NotFound, UnreadableReadings
from service.facts import replace
from service.market.goods.lots import Lot
from service.market.goods.temperature_logs import TemperatureLog
from service.market.storage.log_filing import (
    LOGS_MAX,
    accept_log,
    file_log,
    find_log,
    read_file,
    take_log_back,
)
from tests.factories import NOW, TODAY, ListedLotFactory, log_of

HEAD = "time,temperature (°C)\n"


def filed(
    text: str,
    *,
    lot: Lot | None = None,
    corrects: str | None = None,
    reason: str | None = None,
    gap_hours: float | None = None,
) -> TemperatureLog:
    return accept_log(
        lot or ListedLotFactory(),
        file=read_file(HEAD + text, gap_hours=gap_hours, sha256="of the file"),
        place="bale 14",
        corrects=corrects,
        reason=reason,
        now=NOW,
        filed_by="grower:ALDER",
    )


def test_everything_odd_is_counted_and_nothing_is_dropped() -> None:
    log = filed(
        "2026-09-01T00:00,5\n2026-09-01T06:00,5\n2026-09-01T06:00,25\n2026-09-01T12:00,\n"
        "2026-09-02T06:00,5\n2026-09-02T00:00,5\n2026-09-02T12:00,5\n"
    )

    assert (log.code, log.place, log.readings, log.duplicates, log.out_of_order) == ("T1", "bale 14", 6, 1, 1)
    assert (log.readings_above_20_c, log.hottest_c) == (1, 25.0)
    assert (log.rows_without_temperature_count, log.rows_without_temperature) == (1, [5])
    assert (log.first_reading, log.last_reading) == ("2026-09-01T00:00:00", "2026-09-02T12:00:00")


def test_a_gap_is_named_and_covers_nothing() -> None:
    log = filed("2026-09-01T00:00,5\n2026-09-02T00:00,5\n2026-09-05T00:00,5\n", gap_hours=48)

    assert (log.gaps_count, log.gaps_hours) == (1, 72.0)
    assert log.gaps[0] == {"from": "2026-09-02T00:00:00", "until": "2026-09-05T00:00:00", "hours": 72.0}
    assert [day.day for day in log.by_day] == [date(2026, 9, 1)]


def test_moments_with_an_offset_are_kept_in_utc() -> None:
    log = filed("2026-09-01T00:00+02:00,5\n2026-09-02T00:00+02:00,5\n")

    assert log.first_reading == "2026-08-31T22:00:00Z"


def test_the_running_day_is_left_to_the_next_file() -> None:
    log = filed("2026-11-24T00:00,5\n2026-11-25T09:00,5\n", gap_hours=40)

    assert [day.day for day in log.by_day] == [date(2026, 11, 24)]
    with pytest.raises(InvalidRequest, match="not over"):
        filed("2026-11-25T00:00,5\n2026-11-25T09:00,5\n")


def test_days_that_cannot_be_this_lots_are_refused() -> None:
    with pytest.raises(InvalidRequest, match="clock must be wrong"):
        filed("2026-09-01T00:00,5\n2026-11-28T00:00,5\n")
    with pytest.raises(InvalidRequest, match="before lot"):
        filed("2026-08-01T00:00,5\n2026-08-02T00:00,5\n")
    with pytest.raises(UnreadableReadings, match="row 3"):
        filed("2026-09-01T00:00,5\nlater,5\n")


def test_the_same_file_is_kept_once() -> None:
    kept = log_of()
    again = ListedLotFactory(logs=(kept,))

    with pytest.raises(AlreadyExists, match="T1"):
        accept_log(
            again,
            file=read_file(HEAD + "2026-09-01T00:00,5\n2026-09-02T00:00,5\n", gap_hours=None, sha256=kept.file_sha256),
            place=None,
            corrects=None,
            reason=None,
            now=NOW,
            filed_by="grower:ALDER",
        )  # fmt: skip


def test_a_lot_carries_only_so_many() -> None:
    full = ListedLotFactory(logs=tuple(log_of(code=f"T{n + 1}") for n in range(LOGS_MAX)))

    with pytest.raises(IllegalStep, match="join files"):
        filed("2026-09-01T00:00,5\n2026-09-02T00:00,5\n", lot=full)


def test_a_correction_names_the_file_and_the_reason_and_marks_the_old_one() -> None:
    rows = "2026-09-01T00:00,5\n2026-09-02T00:00,5\n"
    lot = ListedLotFactory(logs=(log_of(),))
    for told in ({"corrects": "T1"}, {"reason": "wrong room"}):
        with pytest.raises(InvalidRequest, match="corrects another"):
            filed(rows, lot=lot, **told)

    new = filed(rows, lot=lot, corrects="T1", reason="wrong room")
    logs = file_log(lot.logs, new)

    assert [(log.code, log.corrected_by, log.is_standing) for log in logs] == [
        ("T1", "T2", False),
        ("T2", None, True),
    ]
    with pytest.raises(IllegalStep, match="corrected by T2"):
        file_log(logs, new)
    with pytest.raises(NotFound):
        find_log(logs, "T9")


def test_a_file_taken_back_stays_with_its_reason() -> None:
    taken = take_log_back([log_of()], "T1", reason="another lot's", now=NOW, by="grower:ALDER")

    assert (taken[0].taken_back_reason, taken[0].is_standing) == ("another lot's", False)
    assert taken[0].taken_back_at is not None
    assert taken[0].taken_back_at.date() == TODAY
    corrected = (
        replace(log_of(), corrected_by="T2"),
        replace(log_of(code="T2"), corrects="T1", reason="slip"),
    )
    again = take_log_back(corrected, "T2", reason="another lot's", now=NOW, by="grower:ALDER")
    assert [log.is_standing for log in again] == [True, False]
    with pytest.raises(IllegalStep, match="taken back"):
        take_log_back(taken, "T1", reason="again", now=NOW, by="grower:ALDER")
