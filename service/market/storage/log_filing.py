"""Files a temperature logger's readings on a lot: summed up, corrected with a reason, taken back, never
discarded.

A file is kept day by day: what the day costs at 20 °C, how much of it was covered, coldest, mean and
hottest. Gaps fall to the stated temperature; the day of filing waits for the next file; of two files of a
day the fuller counts. The readings are not kept, so a new temperature rule would need the files again.
"""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

from service.errors import AlreadyExists, IllegalStep, InvalidRequest, NotFound
from service.facts import Fact, replace
from service.market.goods.lots import Lot, is_future
from service.market.goods.temperature_logs import DAY_COLUMNS, EPOCH_ORDINAL, TemperatureLog
from service.science.temperature_days import TemperatureDay
from service.science.temperature_history import TemperatureHistory, temperature_history
from service.science.temperature_readings import read_readings

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
# What an answer lists one by one; the counts beside them are whole.
GAPS_LISTED = 50
ROWS_LISTED = 20
DECIMALS = 9
# Whoever reads a lot reads its logs along, so there are only so many.
LOGS_MAX = 100


class ReadFile(Fact, frozen=True, kw_only=True):
    """A logger's file as it was read, before it is known to belong to a lot."""

    sha256: str
    history: TemperatureHistory
    has_offsets: bool


def read_file(text: str, *, gap_hours: float | None, sha256: str) -> ReadFile:
    """Read a logger's file.

    Raises:
        UnreadableReadings, OutOfRange: a row cannot be read, or holds what cannot be; it is named.

    """
    readings = read_readings(text=text)
    history = temperature_history(
        at_s=readings.at_s,
        temperature_c=readings.temperature_c,
        row_numbers=readings.row_numbers,
        gap_hours=gap_hours,
    )
    history = replace(history, rows_without_temperature=readings.rows_without_temperature)
    return ReadFile(sha256=sha256, history=history, has_offsets=readings.has_offsets)


def accept_log(
    lot: Lot,
    *,
    file: ReadFile,
    place: str | None,
    corrects: str | None,
    reason: str | None,
    now: datetime,
    filed_by: str,
) -> TemperatureLog:
    """Sum a logger's file up for a lot.

    The day it is filed on is not over and is left to the next file, so that a day is counted once and whole.

    Raises:
        InvalidRequest: readings of the future, or none of a day that counts; a correction without a reason.
        AlreadyExists: the same file stands already.
        IllegalStep: the lot has as many logs as it can carry.

    """
    _refuse_twin(lot, file.sha256)
    if (corrects is None) != (reason is None):
        missing = "reason" if reason is None else "corrects"
        said = "a file that corrects another says which one (corrects), and why (reason)"
        raise InvalidRequest(said, errors=[{"parameter": missing, "detail": said}])
    history = file.history
    _refuse_wrong_days(lot, history, now.date())
    without, written = history.rows_without_temperature, _in_utc if file.has_offsets else _on_its_clock
    return TemperatureLog(
        code=f"T{len(lot.logs) + 1}",
        place=place,
        file_sha256=file.sha256,
        has_offsets=file.has_offsets,
        first_reading=written(history.began_at_s),
        last_reading=written(history.ended_at_s),
        readings=history.readings,
        mean_c=_kept(history.mean_c),
        coldest_c=history.coldest_c,
        hottest_c=history.hottest_c,
        readings_above_20_c=history.readings_above_20_c,
        days_above_20_c=_kept(history.days_above_20_c),
        gaps_count=len(history.gaps),
        gaps_hours=_kept(history.gap_hours),
        gaps=[
            {"from": written(gap.began_at_s), "until": written(gap.ended_at_s), "hours": round(gap.hours, 3)}
            for gap in sorted(history.gaps, key=lambda gap: -gap.hours)[:GAPS_LISTED]
        ],
        duplicates=history.duplicates,
        out_of_order=history.out_of_order,
        rows_without_temperature_count=len(without),
        rows_without_temperature=list(without[:ROWS_LISTED]),
        days=_columns(_whole_days(history, now.date())),
        corrects=corrects,
        reason=reason,
        filed_at=now,
        filed_by=filed_by,
    )


def _refuse_twin(lot: Lot, file_sha256: str) -> None:
    twin = next((log for log in lot.logs if log.is_standing and log.file_sha256 == file_sha256), None)
    if twin is not None:
        raise AlreadyExists(f"this file is kept already, as {twin.code}")
    if len(lot.logs) >= LOGS_MAX:
        raise IllegalStep(
            f"lot {lot.code} carries {LOGS_MAX} logger files, the most it can; join files before sending them",
            state=lot.state,
        )


def _refuse_wrong_days(lot: Lot, history: TemperatureHistory, today: date) -> None:
    last_day = _moment(history.ended_at_s).date()
    if is_future(last_day, today=today):
        _refuse(f"the last reading is of {last_day}, in the future: the logger's clock must be wrong")
    if lot.harvested_on is not None and last_day < lot.harvested_on:
        _refuse(
            f"the last reading is of {last_day}, before lot {lot.code} was picked on {lot.harvested_on}: "
            "it says nothing of this lot"
        )
    if not _whole_days(history, today):
        _refuse(f"no reading is of a day before {today}, which is not over; send the file again tomorrow")


def _whole_days(history: TemperatureHistory, today: date) -> list[TemperatureDay]:
    return [day for day in history.daily if EPOCH_ORDINAL + day.day < today.toordinal()]


def _columns(days: Sequence[TemperatureDay]) -> dict[str, list[float]]:
    columns = {name: [_kept(getattr(day, name)) for day in days] for name in DAY_COLUMNS}
    return {"day": [day.day for day in days], **columns}


def file_log(logs: Sequence[TemperatureLog], new: TemperatureLog) -> tuple[TemperatureLog, ...]:
    """Put a log beside the earlier ones; one that corrects another marks that one.

    Raises:
        NotFound: there is no log of the code it corrects.
        IllegalStep: that log was corrected or taken back before.

    """
    if new.corrects is None:
        return (*logs, new)
    old = _standing(logs, new.corrects)
    return (*(replace(log, corrected_by=new.code) if log is old else log for log in logs), new)


def take_log_back(
    logs: Sequence[TemperatureLog], code: str, *, reason: str, now: datetime, by: str
) -> tuple[TemperatureLog, ...]:
    """Take a log back: it stays in the books and drives nothing; what it had corrected stands again.

    Raises:
        NotFound: there is no log of that code.
        IllegalStep: it was corrected or taken back before.

    """
    old = _standing(logs, code)
    taken = replace(old, taken_back_at=now, taken_back_by=by, taken_back_reason=reason)
    again = {old.corrects: None}
    return tuple(
        taken if log is old else replace(log, corrected_by=again.get(log.code, log.corrected_by))
        for log in logs
    )


def find_log(logs: Sequence[TemperatureLog], code: str) -> TemperatureLog:
    """One log of a lot.

    Raises:
        NotFound: there is none of that code.

    """
    found = next((log for log in logs if log.code == code), None)
    if found is None:
        raise NotFound(f"there is no logger file {code}")
    return found


def _standing(logs: Sequence[TemperatureLog], code: str) -> TemperatureLog:
    log = find_log(logs, code)
    if log.corrected_by is not None:
        raise IllegalStep(f"logger file {code} was corrected by {log.corrected_by}", state="corrected")
    if log.taken_back_at is not None:
        raise IllegalStep(f"logger file {code} was taken back", state="taken_back")
    return log


def _refuse(text: str) -> None:
    raise InvalidRequest(text, errors=[{"pointer": "#", "detail": text}])


def _moment(at_s: float) -> datetime:
    return EPOCH + timedelta(seconds=at_s)


def _on_its_clock(at_s: float) -> str:
    return _moment(at_s).replace(tzinfo=None).isoformat(timespec="seconds")


def _in_utc(at_s: float) -> str:
    return f"{_on_its_clock(at_s)}Z"


def _kept(value: float) -> float:
    return round(value, DECIMALS)
