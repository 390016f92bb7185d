"""Where a lot comes from and where it went: its origin, and its tree both ways."""

from collections.abc import Sequence
from datetime import datetime

from service.errors import NotAllowed, NotFound
from service.market.goods.lots import Lot
from service.market.people.access import Caller, require_known
from service.market.processing.composition import Origin, origin_of
from service.market.trade.reservations import Reservation
from service.market.trade.traceability import Tree, tree_of, visible_codes
from service.records.goods import lots
from service.records.processing import steps
from service.records.session import Session
from service.records.trade import reservations
from service.usecases.goods.lot_access import may_see_lot


def show_origin(session: Session, code: str, *, caller: Caller, now: datetime) -> Origin:
    """What a lot is made of, as far as the caller may know.

    Raises:
        NotFound: there is none, or the caller must not know of it.

    """
    lot = lots.get(session, code, now=now)
    edges = steps.ancestors(session, code)
    family = lots.get_many(session, {code, *(edge.from_code for edge in edges)}, now=now)
    gave = any(caller.is_party("grower", part.grower_code) for part in family.values())
    if not gave and not may_see_lot(session, lot, caller):
        raise NotFound(f"there is no lot {code}")
    is_committed = caller.role == "brewery" and lots.is_committed_to(
        session, code, brewery_code=caller.party_code or ""
    )
    return origin_of(lot, steps.find(session, code), edges, family, caller=caller, is_committed=is_committed)


def show_tree(session: Session, code: str, *, caller: Caller, now: datetime) -> Tree:
    """All that a lot was made of and all that was made of it, as far as the caller may know.

    Raises:
        NotFound: there is none, or the caller must not know of it.
        TokenNeeded: no known token came along.
        NotAllowed: the caller sees the lot, but has no part in it.

    """
    lot = lots.get(session, code, now=now)
    if caller.role == "anyone" and may_see_lot(session, lot, caller):
        require_known(caller)
    edges = [*steps.ancestors(session, code), *steps.descendants(session, code)]
    codes = {code, *(e.from_code for e in edges), *(e.into_code for e in edges)}
    family = lots.get_many(session, codes, now=now)
    promises = _promises(session, family)
    if code not in visible_codes(family, edges, promises, caller=caller):
        if may_see_lot(session, lot, caller):
            raise NotAllowed(f"the tree of lot {code} is for its grower and for who holds a part of it")
        raise NotFound(f"there is no lot {code}")
    made_by = steps.find_many(session, codes)
    return tree_of(code, family, edges, made_by, promises, caller=caller, now=now)


def _promises(session: Session, family: dict[str, Lot]) -> Sequence[Reservation]:
    return [p for code in sorted(family) for p in reservations.search_of_lot(session, code)]
