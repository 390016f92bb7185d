"""What storage leaves of a lot on a later day."""

from datetime import date, datetime

from service.market.people.access import Caller
from service.market.storage.storage import StorageOutlook, StoragePlan, storage_outlook
from service.records.session import Session
from service.reference.six_month_storage import six_month_loss
from service.usecases.goods.lot_access import lot_to_see


def storage_of_lot(
    session: Session,
    code: str,
    *,
    caller: Caller,
    on: date | None,
    plan: StoragePlan | None,
    baseline_index: float | None = None,
    baseline_of_report: bool = False,
    now: datetime,
) -> StorageOutlook:
    """Estimate what storage leaves of a lot's alpha, beta and Hop Storage Index on a day.

    Raises:
        NotFound: there is no such lot, or the caller must not know of it.
        NoStorageModel, FigureMissing, InvalidRequest: as `storage_outlook`.

    """
    lot = lot_to_see(session, code, caller=caller, now=now)
    return storage_outlook(
        lot,
        on=on or now.date(),
        loss=six_month_loss(lot.cultivar),
        plan=plan,
        baseline_index=baseline_index,
        baseline_of_report=baseline_of_report,
    )
