"""Listing a lot for brewers, and withdrawing it."""

from datetime import datetime

from service.market.goods.listing import decide_listing, decide_withdrawal
from service.market.goods.lots import Lot
from service.market.people.access import Caller
from service.market.trade.notices import Event
from service.records.goods import lots
from service.records.session import Session
from service.records.trade import outbox
from service.usecases.goods.lot_access import lot_to_change
from service.usecases.goods.spray_intervals import require_intervals_kept


def list_lot(session: Session, code: str, *, caller: Caller, readiness: str, now: datetime) -> Lot:
    """Show a lot to brewers as announced, awaiting analysis or analysed.

    Raises:
        NotFound, TokenNeeded, NotAllowed: it is not the caller's.
        ListingIncomplete: it lacks something, all of it named at once.
        IllegalStep: it would step back.
        PickedInsideInterval: a spray's interval had not passed at its picking.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    listed = decide_listing(lot, readiness=readiness, today=now.date())
    require_intervals_kept(session, listed, now=now)
    lots.change(session, listed)
    outbox.add(session, Event(kind="lot_listed", lot_code=code, made_at=now))
    return listed


def withdraw_lot(session: Session, code: str, *, caller: Caller, now: datetime) -> None:
    """Take a lot out of every search; commitments on it stand.

    Raises:
        NotFound, TokenNeeded, NotAllowed: it is not the caller's.
        IllegalStep: it is not listed.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    lots.change(session, decide_withdrawal(lot))
