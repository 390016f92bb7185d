"""Promises on lots: hold, offer, confirm, deliver, release. Each step is decided under the lock of the lot."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from service.errors import InvalidRequest, NotAllowed, NotFound
from service.facts import replace
from service.market.goods.lots import Lot
from service.market.matching.alpha_promised import alpha_promised_kg
from service.market.matching.requests import Request, require_open
from service.market.people.access import Caller, acting_party, require_known
from service.market.trade.deliveries import decide_delivery, require_grower_side
from service.market.trade.notices import reservation_event
from service.market.trade.reservations import (
    ActingFor,
    Reservation,
    Reserve,
    decide_confirmation,
    decide_hold,
    decide_offer,
    decide_release,
    side_of,
)
from service.records.goods import lots
from service.records.matching import requests
from service.records.people import parties
from service.records.session import Session
from service.records.trade import outbox, reservations
from service.usecases.goods.lot_access import lot_to_see
from service.usecases.matching.request_states import settle_request


def reserve_mass(session: Session, *, caller: Caller, command: Reserve, now: datetime) -> Reservation:
    """Hold part of a lot for a brewery, or offer it to one.

    A brewery's word, or the specialist's for a brewery, is a hold; a grower's, or the specialist's else, an offer.

    Raises:
        TokenNeeded, NotFound, NotAllowed: the lot or the request is not for this caller; to a grower a request that is
            no longer open is none.
        InvalidRequest: an offer names no request, or the parties do not fit.
        IllegalStep, OutOfRange, NotEnoughStock, NotSoldInThatMass: as `decide_hold`.

    """
    require_known(caller)
    lot = lot_to_see(session, command.lot_code, caller=caller, now=now, lock=True)
    holds = caller.role == "brewery" or (caller.is_specialist and command.brewery_code is not None)
    parts: dict[str, Any] = {
        "request_code": command.request_code,
        "mass_kg": command.mass_kg,
        "held_until": command.held_until,
        "promised": _promised(session, lot),
        "now": now,
        "made_by": caller.name,
    }
    if holds:
        request, brewery_code = _for_a_brewery(session, caller, command, today=now.date())
        promise = decide_hold(lot, brewery_code=brewery_code, **parts)
    else:
        _require_growers_offer(caller, lot, command)
        # The lot is judged before the request is looked at: who makes no offer learns nothing of requests.
        promise = decide_offer(lot, brewery_code="", **parts)
        request = _request_to_offer_for(session, caller, command.request_code or "", today=now.date())
        promise = replace(promise, brewery_code=request.brewery_code)
    promise = replace(
        promise,
        code=reservations.next_code(session, promise.brewery_code),
        alpha_kg=alpha_promised_kg(lot, request, promise.mass_kg, today=now.date()),
    )
    reservations.add(session, promise)
    spoke = "brewery" if holds else "grower"
    tell_of(session, promise, by_side=None if caller.is_specialist else spoke, now=now)
    return promise


def tell_of(
    session: Session,
    promise: Reservation,
    *,
    before: Reservation | None = None,
    by_side: str | None,
    now: datetime,
) -> None:
    """Leave a line in the outbox for the side that did not speak, where there is something to tell."""
    event = reservation_event(promise, before=before, by_side=by_side, now=now)
    if event is not None:
        outbox.add(session, event)


def _for_a_brewery(
    session: Session, caller: Caller, command: Reserve, *, today: date
) -> tuple[Request | None, str]:
    if command.grower_code is not None:
        _refuse("grower_code", "a hold is a brewery's; an offer by the grower names no brewery")
    brewery_code = acting_party(caller, kind="brewery", named=command.brewery_code)
    parties.get(session, "brewery", brewery_code)
    if command.request_code is None:
        return None, brewery_code
    request = requests.get(session, command.request_code)
    if request.brewery_code != brewery_code:
        raise NotFound(f"there is no request {request.code}")
    require_open(request, today=today)
    return request, brewery_code


def _require_growers_offer(caller: Caller, lot: Lot, command: Reserve) -> None:
    if not caller.acts_for("grower", lot.grower_code):
        raise NotAllowed(f"lot {lot.code} belongs to {lot.grower_code}")
    if command.grower_code not in (None, lot.grower_code):
        _refuse("grower_code", f"lot {lot.code} belongs to {lot.grower_code}")
    if command.brewery_code is not None:
        _refuse("brewery_code", "an offer goes to the brewery whose request it names")
    if command.request_code is None:
        _refuse("request_code", "an offer names the request it is made for")


def _request_to_offer_for(session: Session, caller: Caller, code: str, *, today: date) -> Request:
    request = requests.get(session, code)
    if caller.role == "grower" and request.shown_state(today) != "open":
        # What became of a request is its brewery's to know: to a grower it is gone.
        raise NotFound(f"there is no request {code}")
    require_open(request, today=today)
    return request


def _refuse(field: str, text: str) -> None:
    raise InvalidRequest(text, errors=[{"pointer": f"#/{field}", "detail": text}])


def _promised(session: Session, lot: Lot) -> Sequence[Reservation]:
    whole = lot.sold_in == "whole_packages"
    return reservations.search_of_lot(session, lot.code) if whole else ()


def show_reservation(session: Session, code: str, *, caller: Caller) -> Reservation:
    """A reservation, for its two sides and the specialist.

    Raises:
        TokenNeeded: no known token came along.
        NotFound: there is none, or the caller must not know of it.

    """
    require_known(caller)
    promise = reservations.get(session, code)
    side = side_of(promise, role=caller.role, party_code=caller.party_code)
    if side is None and not caller.is_specialist:
        raise NotFound(f"there is no reservation {code}")
    return promise


def list_reservations(
    session: Session,
    *,
    caller: Caller,
    filters: Mapping[str, str | None],
    after: int | None,
    limit: int,
    now: datetime,
) -> Sequence[tuple[Reservation, int]]:
    """The caller's own reservations on either side, newest first; the specialist sees everybody's.

    Raises:
        TokenNeeded: no known token came along.

    """
    require_known(caller)
    own = {} if caller.is_specialist else {f"{caller.role}_code": caller.party_code}
    return reservations.search(session, now=now, after=after, limit=limit, **own, **filters)


def confirm_reservation(
    session: Session, code: str, *, caller: Caller, acting_for: ActingFor, now: datetime
) -> Reservation:
    """Let a side confirm; with both the mass counts as taken from the lot.

    Raises:
        TokenNeeded, NotFound: it is not the caller's.
        NotAllowed, InvalidRequest: it is not clear, or not allowed, for which side the caller speaks.
        IllegalStep, NotEnoughStock, NotSoldInThatMass: as `decide_confirmation`.

    """
    promise, lot = _locked(session, code, caller=caller, now=now)
    side = _side_of_caller(promise, caller, acting_for)
    others = [p for p in _promised(session, lot) if p.code != code]
    changed = decide_confirmation(promise, lot, side=side, by=caller.name, now=now, promised=others)
    tell_of(session, changed, before=promise, by_side=side, now=now)
    return _write(session, promise, changed)


def deliver_reservation(
    session: Session,
    code: str,
    *,
    caller: Caller,
    delivered_on: date,
    mass_kg: Decimal,
    now: datetime,
) -> Reservation:
    """Record what was delivered; what was confirmed beyond it is free again.

    Raises:
        TokenNeeded, NotFound: it is not the caller's.
        NotAllowed: the caller is the brewery.
        IllegalStep, OutOfRange: as `decide_delivery`.

    """
    promise, lot = _locked(session, code, caller=caller, now=now)
    require_grower_side(side_of(promise, role=caller.role, party_code=caller.party_code))
    changed = decide_delivery(
        promise, lot, delivered_on=delivered_on, mass_kg=mass_kg, by=caller.name, now=now
    )
    return _write(session, promise, changed)


def release_reservation(session: Session, code: str, *, caller: Caller, now: datetime) -> Reservation:
    """Give a promise up; its mass is free again.

    Raises:
        TokenNeeded, NotFound: it is not the caller's.
        IllegalStep: as `decide_release`.

    """
    promise, _ = _locked(session, code, caller=caller, now=now)
    side = side_of(promise, role=caller.role, party_code=caller.party_code)
    released = decide_release(promise, side=side, by=caller.name, now=now)
    tell_of(session, released, before=promise, by_side=side, now=now)
    return _write(session, promise, released)


def _locked(session: Session, code: str, *, caller: Caller, now: datetime) -> tuple[Reservation, Lot]:
    """A reservation of the caller's and its lot, both as they stay until the transaction ends."""
    seen = show_reservation(session, code, caller=caller)
    lot = lots.get(session, seen.lot_code, now=now, lock=True)
    return reservations.get(session, code), lot


def _side_of_caller(promise: Reservation, caller: Caller, acting_for: ActingFor) -> str:
    named = {"grower": acting_for.grower_code, "brewery": acting_for.brewery_code}
    given = [side for side, party in named.items() if party is not None]
    if caller.is_specialist:
        if len(given) != 1:
            _refuse("grower_code", "the specialist names the one side it acts for")
        side, parties_of = given[0], {"grower": promise.grower_code, "brewery": promise.brewery_code}
        if named[side] != parties_of[side]:
            _refuse(f"{side}_code", f"the {side} of this reservation is {parties_of[side]}")
        return side
    if any(side != caller.role or named[side] != caller.party_code for side in given):
        raise NotAllowed(f"this token belongs to {caller.party_code}")
    return caller.role


def _write(session: Session, before: Reservation, after: Reservation) -> Reservation:
    if after == before:
        return before
    reservations.change(session, after)
    if after.taken_kg != before.taken_kg:
        lots.take(session, after.lot_code, after.taken_kg - before.taken_kg)
        settle_request(session, after.request_code)
    return after
