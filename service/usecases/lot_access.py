"""Reading a lot as somebody: who may know of it, who may change it."""

from datetime import datetime

from service.errors import NotAllowed, NotFound
from service.market.access import Visitor, require_known
from service.market.lots import Lot
from service.records import lots
from service.records.session import Session


def lot_to_see(session: Session, code: str, *, visitor: Visitor, now: datetime, lock: bool = False) -> Lot:
    """A lot that the visitor may know of.

    Raises:
        NotFound: there is none, or the visitor must not know of it.

    """
    lot = lots.get(session, code, now=now, lock=lock)
    if lot.state == "listed" or visitor.acts_for("grower", lot.grower_code):
        return lot
    if visitor.role == "brewery" and lots.is_committed_to(
        session, code, brewery_code=visitor.party_code or ""
    ):
        return lot
    raise NotFound(f"there is no lot {code}")


def lot_to_change(session: Session, code: str, *, visitor: Visitor, now: datetime) -> Lot:
    """A lot of the visitor's own, locked until the transaction ends.

    Raises:
        NotFound: there is none, or the visitor must not know of it.
        TokenNeeded, NotAllowed: it is somebody else's.

    """
    lot = lot_to_see(session, code, visitor=visitor, now=now, lock=True)
    require_known(visitor)
    if not visitor.acts_for("grower", lot.grower_code):
        raise NotAllowed(f"lot {code} belongs to {lot.grower_code}")
    return lot
