"""What happens after a delivery: the brewery receives it, and what it refused comes back."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from service.errors import NotAllowed, NotFound
from service.market.people.access import Visitor, require_known
from service.market.trade.deliveries import Receipt, decide_receipt, decide_return, require_grower_side
from service.market.trade.reservations import Reservation, side_of
from service.records.goods import lots
from service.records.session import Session
from service.records.trade import receipts, reservations
from service.usecases.matching.request_states import settle_request


def receive_delivery(
    session: Session, code: str, *, visitor: Visitor, asked: Mapping[str, Any], now: datetime
) -> Receipt:
    """Record what arrived, and whether the brewery takes it.

    Raises:
        TokenNeeded, NotFound: it is not the visitor's.
        NotAllowed: the visitor is the grower.
        IllegalStep, InvalidRequest, OutOfRange: as `decide_receipt`.

    """
    promise, side = _locked(session, code, visitor, now)
    if side == "grower":
        raise NotAllowed("the brewery says what it received")
    given = {**asked, "packages": tuple(asked["packages"])}
    receipt = decide_receipt(
        promise,
        Receipt(reservation_code=code, made_at=now, made_by=visitor.name, **given),
        before=receipts.find(session, code),
        today=now.date(),
    )
    receipts.put(session, receipt)
    return receipt


def show_receipt(session: Session, code: str, *, visitor: Visitor) -> Receipt:
    """What the brewery received, for both sides and the specialist.

    Raises:
        TokenNeeded: no known token came along.
        NotFound: there is no such reservation or receipt, or the visitor must not know of it.

    """
    _seen(session, code, visitor)
    receipt = receipts.find(session, code)
    if receipt is None:
        raise NotFound(f"reservation {code} has no receipt yet")
    return receipt


def book_return(
    session: Session, code: str, *, visitor: Visitor, mass_kg: Decimal, returned_on: date, now: datetime
) -> Reservation:
    """Book back what the brewery refused, trip by trip; its kilograms are in the lot again.

    Raises:
        TokenNeeded, NotFound: it is not the visitor's.
        NotAllowed: the visitor is the brewery.
        IllegalStep, OutOfRange: as `decide_return`.

    """
    promise, side = _locked(session, code, visitor, now)
    require_grower_side(side)
    changed = decide_return(
        promise,
        receipts.find(session, code),
        mass_kg=mass_kg,
        returned_on=returned_on,
        by=visitor.name,
        now=now,
    )
    reservations.change(session, changed)
    lots.take(session, changed.lot_code, changed.taken_kg - promise.taken_kg)
    settle_request(session, changed.request_code)
    return changed


def _locked(session: Session, code: str, visitor: Visitor, now: datetime) -> tuple[Reservation, str | None]:
    seen, side = _seen(session, code, visitor)
    lots.get(session, seen.lot_code, now=now, lock=True)
    return reservations.get(session, code), side


def _seen(session: Session, code: str, visitor: Visitor) -> tuple[Reservation, str | None]:
    require_known(visitor)
    promise = reservations.get(session, code)
    side = side_of(promise, role=visitor.role, party_code=visitor.party_code)
    if side is None and not visitor.is_specialist:
        raise NotFound(f"there is no reservation {code}")
    return promise, side
