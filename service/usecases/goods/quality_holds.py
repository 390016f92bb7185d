"""Stopping a lot, and letting it go again."""

from collections.abc import Sequence
from datetime import datetime

from service.market.goods.quality_holds import QualityHold, after_lifting, decide_lifting, put_on_hold
from service.market.people.access import Caller, require_known
from service.records.goods import lots, quality_holds
from service.records.session import Session
from service.usecases.goods.lot_access import lot_to_change, lot_to_see


def place_hold(
    session: Session, code: str, *, caller: Caller, concern: str, words: str, now: datetime
) -> QualityHold:
    """Stop a lot at once.

    Raises:
        NotFound, TokenNeeded, NotAllowed: it is not the caller's.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    hold = QualityHold(lot_code=code, concern=concern, words=words, placed_at=now, placed_by=caller.name)
    kept = quality_holds.add(session, hold)
    lots.change(session, put_on_hold(lot))
    return kept


def lift_hold(
    session: Session, code: str, hold_code: str, *, caller: Caller, finding: str, now: datetime
) -> QualityHold:
    """Lift a hold with what was found; the grower lists the lot again when nothing stops it any more.

    Raises:
        NotFound, TokenNeeded, NotAllowed: it is not the caller's, or there is no such hold.
        IllegalStep: as `decide_lifting`.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    before = quality_holds.search(session, code)
    lifted = decide_lifting(
        before, hold_code, by=caller.name, is_specialist=caller.is_specialist, finding=finding, now=now
    )
    quality_holds.change(session, lifted)
    holds = [lifted if hold.code == hold_code else hold for hold in before]
    lots.change(session, after_lifting(lot, holds))
    return lifted


def list_holds(session: Session, code: str, *, caller: Caller, now: datetime) -> Sequence[QualityHold]:
    """Every hold a lot had, to all who may know of the lot.

    Raises:
        NotFound: there is no such lot, or the caller must not know of it.
        TokenNeeded: no known token came along.

    """
    require_known(caller)
    lot_to_see(session, code, caller=caller, now=now)
    return quality_holds.search(session, code)
