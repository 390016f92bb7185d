"""Reading a lot as somebody: who may know of it, who may change it."""

from collections.abc import Iterable
from datetime import datetime

from service.errors import NotAllowed, NotFound
from service.market.goods.lots import Lot
from service.market.people.access import Caller, require_known
from service.records.goods import lots
from service.records.processing import steps
from service.records.session import Session


def lot_to_see(session: Session, code: str, *, caller: Caller, now: datetime, lock: bool = False) -> Lot:
    """A lot that the caller may know of.

    Raises:
        NotFound: there is none, or the caller must not know of it.

    """
    lot = lots.get(session, code, now=now, lock=lock)
    if not may_see_lot(session, lot, caller):
        raise NotFound(f"there is no lot {code}")
    return lot


def lot_to_change(session: Session, code: str, *, caller: Caller, now: datetime) -> Lot:
    """A lot of the caller's own, locked until the transaction ends.

    Raises:
        NotFound: there is none, or the caller must not know of it.
        TokenNeeded, NotAllowed: it is somebody else's.

    """
    lot = lot_to_see(session, code, caller=caller, now=now, lock=True)
    require_known(caller)
    if not caller.acts_for("grower", lot.grower_code):
        raise NotAllowed(f"lot {code} belongs to {lot.grower_code}")
    return lot


def lots_to_see(session: Session, codes: Iterable[str], *, caller: Caller, now: datetime) -> dict[str, Lot]:
    """Several lots that the caller may know of, by code, in as few statements as one lot takes.

    Raises:
        NotFound: one of them does not exist, or the caller must not know of it.

    """
    wanted = list(dict.fromkeys(codes))
    found = lots.get_many(session, wanted, now=now) if wanted else {}
    for code in wanted:
        lot = found.get(code)
        if lot is None or not may_see_lot(session, lot, caller):
            raise NotFound(f"there is no lot {code}")
    return found


def may_see_lot(session: Session, lot: Lot, caller: Caller) -> bool:
    """Whether a caller may know of a lot: a listed one, its own, or one it has a promise on, or on a part of it."""
    if lot.state == "listed" or caller.acts_for("grower", lot.grower_code):
        return True
    if caller.role != "brewery" or caller.party_code is None:
        return False
    if lots.is_committed_to(session, lot.code, brewery_code=caller.party_code):
        return True
    parts = steps.parts_below(session, lot.code)
    return any(lots.is_committed_to(session, code, brewery_code=caller.party_code) for code in parts)
