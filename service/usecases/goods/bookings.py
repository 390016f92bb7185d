"""What leaves a lot other than by delivery: booked by its grower, and taken back after a slip of the pen."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from service.errors import InvalidRequest, NotAllowed
from service.market.goods.bookings import (
    Booking,
    booked_kg,
    decide_booking,
    decide_reweighing,
    find_booking,
    take_back,
)
from service.market.goods.lots import Lot
from service.market.people.access import Caller, require_known
from service.market.trade.rub_samples import require_not_sent
from service.records.goods import bookings
from service.records.processing import steps
from service.records.session import Session
from service.records.trade import reservations, rub_samples
from service.usecases.goods.lot_access import lot_to_change, lot_to_see


def book_out(
    session: Session, code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> Booking:
    """Book kilograms out of a lot: a mass, or what the scale says is left.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's.
        InvalidRequest: neither a mass nor a weighing, or both.
        IllegalStep, OutOfRange, NotEnoughStock: as `decide_booking`.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    made = steps.find(session, code)
    if made is not None and made.kind != "drying" and asked["booked_on"] < made.done_on:
        _refuse("booked_on", f"lot {code} was made by {made.kind} on {made.done_on}; nothing left it before")
    given = dict(asked)
    kind, mass_kg, weighed_kg = given.pop("kind"), given.pop("mass_kg"), given.pop("weighed_kg")
    plain = {**given, "now": now, "made_by": caller.name}
    if weighed_kg is None:
        if mass_kg is None:
            _refuse("mass_kg", "say how many kilograms left the lot")
        booking = decide_booking(lot, kind=kind, mass_kg=mass_kg, **plain)
    else:
        if mass_kg is not None or kind != "reweighing_loss":
            _refuse("weighed_kg", "a weighing stands alone, with the kind reweighing_loss and no mass_kg")
        on_hand_kg = _on_hand_kg(session, lot)
        booking = decide_reweighing(lot, on_hand_kg=on_hand_kg, weighed_kg=weighed_kg, **plain)
    return bookings.add(session, booking)


def _on_hand_kg(session: Session, lot: Lot) -> Decimal:
    """What lies in the store by the books: promised kilograms too, delivered ones no more."""
    promises = reservations.search_of_lot(session, lot.code)
    delivered = sum((p.taken_kg for p in promises if p.state == "delivered"), Decimal(0))
    return (lot.mass_kg or Decimal(0)) - booked_kg(bookings.search(session, lot.code)) - delivered


def _refuse(field: str, text: str) -> None:
    raise InvalidRequest(text, errors=[{"pointer": f"#/{field}", "detail": text}])


def take_booking_back(
    session: Session, code: str, *, booking_code: str, caller: Caller, reason: str, now: datetime
) -> Booking:
    """Take back what was booked by hand; its kilograms are free again.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's, or there is no such booking.
        IllegalStep: it was taken back before, a step booked it, or it is a sample that was sent.

    """
    lot_to_change(session, code, caller=caller, now=now)
    booking = find_booking(bookings.search(session, code), booking_code)
    require_not_sent(booking, rub_samples.find_of_booking(session, code, booking_code))
    taken = take_back(booking, reason=reason, now=now, by=caller.name)
    bookings.change(session, taken)
    return taken


def list_bookings(session: Session, code: str, *, caller: Caller, now: datetime) -> Sequence[Booking]:
    """A lot's bookings, for its grower and the specialist: they name other parties' samples.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's.

    """
    lot = lot_to_see(session, code, caller=caller, now=now)
    require_known(caller)
    if not caller.acts_for("grower", lot.grower_code):
        raise NotAllowed(f"what left lot {code} is for its grower to see")
    return bookings.search(session, code)
