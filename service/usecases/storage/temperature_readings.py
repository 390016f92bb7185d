"""Temperature logger files of a lot: filed, corrected, taken back, shown."""

from collections.abc import Sequence
from datetime import datetime

from service.facts import replace
from service.market.goods.lots import Lot
from service.market.goods.temperature_logs import TemperatureLog
from service.market.people.access import Caller
from service.market.storage.log_filing import ReadFile, accept_log, file_log, find_log, take_log_back
from service.records.goods import lots
from service.records.session import Session
from service.usecases.goods.lot_access import lot_to_change, lot_to_see


def file_readings(
    session: Session,
    code: str,
    *,
    caller: Caller,
    file: ReadFile,
    place: str | None,
    corrects: str | None,
    reason: str | None,
    now: datetime,
) -> TemperatureLog:
    """File a logger's file on a lot; with `corrects` in the place of an earlier one.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's, or there is no file to correct.
        InvalidRequest, AlreadyExists, IllegalStep: as `accept_log`.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    log = accept_log(
        lot,
        file=file,
        place=place,
        corrects=corrects,
        reason=reason,
        now=now,
        filed_by=caller.name,
    )
    _keep(session, replace(lot, logs=file_log(lot.logs, log)))
    return log


def take_readings_back(
    session: Session, code: str, *, log_code: str, caller: Caller, reason: str, now: datetime
) -> TemperatureLog:
    """Take a logger's file back, as when it was another lot's: it stays in the books and drives nothing.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's, or there is no such file.
        IllegalStep: it was corrected or taken back before.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    logs = take_log_back(lot.logs, log_code, reason=reason, now=now, by=caller.name)
    _keep(session, replace(lot, logs=logs))
    return find_log(logs, log_code)


def list_readings(session: Session, code: str, *, caller: Caller, now: datetime) -> Sequence[TemperatureLog]:
    """What is kept of a lot's logger files, oldest first, with those that were corrected or taken back.

    Raises:
        NotFound: there is no such lot, or the caller must not know of it.

    """
    return lot_to_see(session, code, caller=caller, now=now).logs


def show_readings(
    session: Session, code: str, *, log_code: str, caller: Caller, now: datetime
) -> TemperatureLog:
    """One logger file of a lot, with its days.

    Raises:
        NotFound: there is no such lot or file, or the caller must not know of it.

    """
    return find_log(lot_to_see(session, code, caller=caller, now=now).logs, log_code)


def _keep(session: Session, lot: Lot) -> None:
    lots.change(session, lot)
