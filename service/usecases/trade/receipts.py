"""What happens after a delivery: the brewery receives it, and what it refused comes back."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from service.errors import NotAllowed, NotFound
from service.market.people.access import Caller, require_known
from service.market.trade.deliveries import Receipt, decide_receipt, decide_return, require_grower_side
from service.market.trade.reservations import Reservation, side_of
from service.records.goods import lots
from service.records.session import Session
from service.records.trade import receipts, reservations
from service.usecases.matching.request_states import settle_request


def receive_delivery(
    session: Session, code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> tuple[Receipt, Reservation]:
    """Record what arrived and what of it the brewery takes; gives the receipt with its reservation.

    Raises:
        TokenNeeded, NotFound: it is not the caller's.
        NotAllowed: the caller is the grower.
        IllegalStep, InvalidRequest, OutOfRange: as `decide_receipt`.

    """
    promise, side = _locked(session, code, caller, now)
    if side == "grower":
        raise NotAllowed("the brewery says what it received")
    given = {**asked, "packages": tuple(asked["packages"])}
    receipt = decide_receipt(
        promise,
        Receipt(reservation_code=code, made_at=now, made_by=caller.name, **given),
        before=receipts.find(session, code),
        today=now.date(),
    )
    receipts.put(session, receipt)
    return receipt, promise


def show_receipt(session: Session, code: str, *, caller: Caller) -> tuple[Receipt, Reservation]:
    """What the brewery received, for both sides and the specialist.

    Raises:
        TokenNeeded: no known token came along.
        NotFound: there is no such reservation or receipt, or the caller must not know of it.

    """
    promise, _ = _seen(session, code, caller)
    receipt = receipts.find(session, code)
    if receipt is None:
        raise NotFound(f"reservation {code} has no receipt yet")
    return receipt, promise


def book_return(
    session: Session, code: str, *, caller: Caller, mass_kg: Decimal, returned_on: date, now: datetime
) -> Reservation:
    """Book back what the brewery refused, trip by trip; its kilograms are in the lot again.

    Raises:
        TokenNeeded, NotFound: it is not the caller's.
        NotAllowed: the caller is the brewery.
        IllegalStep, OutOfRange: as `decide_return`.

    """
    promise, side = _locked(session, code, caller, now)
    require_grower_side(side)
    changed = decide_return(
        promise,
        receipts.find(session, code),
        mass_kg=mass_kg,
        returned_on=returned_on,
        by=caller.name,
        now=now,
    )
    reservations.change(session, changed)
    lots.take(session, changed.lot_code, changed.taken_kg - promise.taken_kg)
    settle_request(session, changed.request_code)
    return changed


def _locked(session: Session, code: str, caller: Caller, now: datetime) -> tuple[Reservation, str | None]:
    seen, side = _seen(session, code, caller)
    lots.get(session, seen.lot_code, now=now, lock=True)
    return reservations.get(session, code), side


def _seen(session: Session, code: str, caller: Caller) -> tuple[Reservation, str | None]:
    require_known(caller)
    promise = reservations.get(session, code)
    side = side_of(promise, role=caller.role, party_code=caller.party_code)
    if side is None and not caller.is_specialist:
        raise NotFound(f"there is no reservation {code}")
    return promise, side
