"""Reading who changed what."""

from collections.abc import Sequence
from datetime import datetime

from service.market.goods.audit_trail import Change, as_read, decide_reading
from service.market.people.access import Caller, require_known
from service.records.goods import audit_trail, lots
from service.records.session import Session
from service.usecases.goods.lot_access import lot_to_see


def list_changes(
    session: Session,
    *,
    caller: Caller,
    lot_code: str | None,
    kind: str | None,
    code: str | None,
    after: int | None,
    limit: int,
    now: datetime,
) -> Sequence[Change]:
    """The lines of one's own records, newest first; of a lot, also to a brewery that is committed to it.

    Raises:
        TokenNeeded: no known token came along.
        NotFound: there is no such lot, or the caller must not know of it.

    """
    require_known(caller)
    committed = None
    if lot_code is not None:
        lot_to_see(session, lot_code, caller=caller, now=now)
        if caller.role == "brewery" and caller.party_code is not None:
            held = lots.is_committed_to(session, lot_code, brewery_code=caller.party_code)
            committed = lot_code if held else None
    reading = decide_reading(caller, committed_to_lot=committed)
    found = audit_trail.search(
        session, reading, lot_code=lot_code, kind=kind, code=code, after=after, limit=limit
    )
    return [as_read(change, reading) for change in found]
