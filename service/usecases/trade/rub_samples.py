"""Samples for the rub: asked for, approved, sent, received, noted, and what they lead to."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal

from service.errors import NotFound
from service.facts import replace
from service.market.goods.lots import Lot
from service.market.matching.alpha_promised import alpha_promised_kg
from service.market.matching.requests import require_open
from service.market.people.access import Caller, acting_party, require_known
from service.market.trade.reservations import Reservation, decide_offer
from service.market.trade.rub_samples import (
    RubSample,
    answer_sample,
    as_seen_from,
    decide_sample,
    give_up_sample,
    note_sample,
    receive_sample,
    require_selectable,
    require_side,
    select_sample,
    send_sample,
)
from service.records.goods import bookings, lots
from service.records.matching import requests
from service.records.people import parties
from service.records.session import Session
from service.records.trade import reservations, rub_samples
from service.usecases.goods.lot_access import lot_to_see
from service.usecases.trade.reservations import tell_of


def ask_for_sample(
    session: Session,
    *,
    caller: Caller,
    lot_code: str,
    mass_g: int,
    words: str | None,
    brewery_code: str | None,
    now: datetime,
) -> RubSample:
    """Ask a grower for grams of a lot.

    Raises:
        TokenNeeded, NotAllowed, InvalidRequest: it is not clear for which brewery.
        NotFound: there is no such lot, or the caller must not know of it.
        IllegalStep, LotOnHold, OutOfRange: as `decide_sample`.

    """
    brewery = acting_party(caller, kind="brewery", named=brewery_code)
    parties.get(session, "brewery", brewery)
    lot = lot_to_see(session, lot_code, caller=caller, now=now)
    sample = decide_sample(
        lot, brewery_code=brewery, mass_g=mass_g, words=words, now=now, made_by=caller.name
    )
    sample = replace(sample, code=rub_samples.next_code(session, brewery))
    rub_samples.add(session, sample)
    return sample


def show_sample(session: Session, code: str, *, caller: Caller) -> RubSample:
    """A sample, for its two sides and the specialist.

    Raises:
        TokenNeeded: no known token came along.
        NotFound: there is none, or the caller must not know of it.

    """
    sample, side = _seen(session, code, caller)
    return as_seen_from(sample, side)


def list_samples(
    session: Session,
    *,
    caller: Caller,
    filters: Mapping[str, str | None],
    after: int | None,
    limit: int,
) -> Sequence[tuple[RubSample, int]]:
    """The caller's samples on either side, newest first; the specialist sees everybody's.

    Raises:
        TokenNeeded: no known token came along.

    """
    require_known(caller)
    own: dict[str, str | None] = {"grower_code": None, "brewery_code": None}
    if not caller.is_specialist:
        own[f"{caller.role}_code"] = caller.party_code
    side = None if caller.is_specialist else caller.role
    found = rub_samples.search(session, after=after, limit=limit, **own, **filters)
    return [(as_seen_from(sample, side), number) for sample, number in found]


def answer_for_sample(
    session: Session, code: str, *, caller: Caller, approves: bool, answer: str | None, now: datetime
) -> RubSample:
    """Let the grower approve or decline.

    Raises:
        TokenNeeded, NotFound, NotAllowed, IllegalStep: as `answer_sample`.

    """
    sample, side, _ = _locked(session, code, caller, now)
    require_side(sample, side, wanted="grower", what="decides")
    return _keep(
        session, answer_sample(sample, approves=approves, answer=answer, by=caller.name, now=now), side
    )


def dispatch_sample(
    session: Session, code: str, *, caller: Caller, sent_on: date, now: datetime
) -> RubSample:
    """Send a sample; its grams are booked out of the lot.

    Raises:
        TokenNeeded, NotFound, NotAllowed: it is not the caller's.
        IllegalStep, LotOnHold, OutOfRange, NotEnoughStock: as `send_sample`.

    """
    sample, side, lot = _locked(session, code, caller, now)
    require_side(sample, side, wanted="grower", what="sends the grams")
    sent, booking = send_sample(sample, lot, sent_on=sent_on, by=caller.name, now=now)
    return _keep(session, replace(sent, booking_code=bookings.add(session, booking).code), side)


def welcome_sample(
    session: Session, code: str, *, caller: Caller, received_on: date, now: datetime
) -> RubSample:
    """Record that a sample came.

    Raises:
        TokenNeeded, NotFound, NotAllowed, IllegalStep, OutOfRange: as `receive_sample`.

    """
    sample, side, _ = _locked(session, code, caller, now)
    require_side(sample, side, wanted="brewery", what="says what came")
    return _keep(session, receive_sample(sample, received_on=received_on, by=caller.name, now=now), side)


def write_notes(
    session: Session, code: str, *, caller: Caller, notes: str | None, shared: bool, now: datetime
) -> RubSample:
    """Write what the brewery smelled.

    Raises:
        TokenNeeded, NotFound, NotAllowed, IllegalStep: as `note_sample`.

    """
    sample, side, _ = _locked(session, code, caller, now)
    require_side(sample, side or "specialist", wanted="brewery", what="writes its notes")
    return _keep(session, note_sample(sample, notes=notes, shared=shared, by=caller.name, now=now), side)


def select_lot(
    session: Session,
    code: str,
    *,
    caller: Caller,
    mass_kg: Decimal,
    request_code: str | None,
    held_until: datetime | None,
    now: datetime,
) -> tuple[RubSample, Reservation]:
    """Offer to take kilograms of the lot that the sample spoke for; they are taken once the grower confirms.

    Raises:
        TokenNeeded, NotFound, NotAllowed: it is not the caller's.
        IllegalStep, LotOnHold, OutOfRange, NotEnoughStock, NotSoldInThatMass: as `decide_offer`.

    """
    sample, side, lot = _locked(session, code, caller, now)
    require_side(sample, side, wanted="brewery", what="selects the lot")
    require_selectable(sample)
    request = requests.get(session, request_code) if request_code else None
    if request is not None:
        if request.brewery_code != sample.brewery_code:
            raise NotFound(f"there is no request {request_code}")
        require_open(request, today=now.date())
    whole = lot.sold_in == "whole_packages"
    offer = decide_offer(
        lot,
        brewery_code=sample.brewery_code,
        request_code=request_code,
        mass_kg=mass_kg,
        held_until=held_until,
        side="brewery",
        promised=reservations.search_of_lot(session, lot.code) if whole else (),
        now=now,
        made_by=caller.name,
    )
    promise = replace(
        offer,
        code=reservations.next_code(session, sample.brewery_code),
        alpha_kg=alpha_promised_kg(lot, request, offer.mass_kg, today=now.date()),
    )
    reservations.add(session, promise)
    tell_of(session, promise, by_side="brewery", now=now)
    selected = select_sample(sample, reservation_code=promise.code, by=caller.name, now=now)
    return _keep(session, selected, side), promise


def give_sample_up(session: Session, code: str, *, caller: Caller, now: datetime) -> None:
    """Let the brewery give up a sample that was not sent.

    Raises:
        TokenNeeded, NotFound, NotAllowed, IllegalStep: as `give_up_sample`.

    """
    sample, side, _ = _locked(session, code, caller, now)
    require_side(sample, side, wanted="brewery", what="gives up its asking")
    _keep(session, give_up_sample(sample, by=caller.name, now=now), side)


def _keep(session: Session, sample: RubSample, side: str | None) -> RubSample:
    rub_samples.change(session, sample)
    return as_seen_from(sample, side)


def _locked(session: Session, code: str, caller: Caller, now: datetime) -> tuple[RubSample, str | None, Lot]:
    seen, side = _seen(session, code, caller)
    lot = lots.get(session, seen.lot_code, now=now, lock=True)
    return rub_samples.get(session, code), side, lot


def _seen(session: Session, code: str, caller: Caller) -> tuple[RubSample, str | None]:
    require_known(caller)
    sample = rub_samples.get(session, code)
    parties_of = {"grower": sample.grower_code, "brewery": sample.brewery_code}
    side = caller.role if parties_of.get(caller.role) == caller.party_code else None
    if side is None and not caller.is_specialist:
        raise NotFound(f"there is no sample {code}")
    return sample, side
