"""A grower's lots: draft, revise, discard, show."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from service.facts import replace
from service.market.goods.bookings import booked_kg, moved_kg
from service.market.goods.cultivars import NamedCultivar, name_cultivar
from service.market.goods.listing import keep_listed
from service.market.goods.lot_changes import decide_discard, revise_lot
from service.market.goods.lot_making import crop_year_asked, make_lot, role_of
from service.market.goods.lots import Lot
from service.market.people.access import Caller, acting_party, require_known
from service.market.processing.packing_out import put_back
from service.market.sheet.lot_view import LotView
from service.records.goods import bookings, cultivars, lots, quality_holds
from service.records.growing import sprays
from service.records.people import parties
from service.records.processing import steps
from service.records.session import Session
from service.records.sheet import sheets
from service.usecases.goods.lot_access import lot_to_change, lot_to_see
from service.usecases.goods.lot_views import view_lots
from service.usecases.goods.spray_intervals import require_intervals_kept


def draft_lot(session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime) -> LotView:
    """Draft a lot for a grower.

    Raises:
        TokenNeeded, NotAllowed: the caller is not that grower.
        NotFound: the specialist named a grower that does not exist.
        InvalidRequest: something in it cannot be.

    """
    grower_code = acting_party(caller, kind="grower", named=asked.get("grower_code"))
    grower = parties.get(session, "grower", grower_code)
    named = name_cultivar(asked["cultivar"], cultivars.search(session))

    code = lots.next_code(session, grower_code, year=crop_year_asked(asked, now=now))
    lot = make_lot(asked, code=code, grower=grower, named=named, now=now, made_by=caller.name)
    lots.add(session, lot, cultivar_key=named.key)
    return _view(session, lot, caller, now)


def _named(session: Session, lot: Lot) -> NamedCultivar:
    """The cultivar of a lot; of a blend nothing follows."""
    if lot.is_blend:
        return NamedCultivar("this blend", None, "", None)
    return name_cultivar(lot.cultivar, cultivars.search(session))


def change_lot(
    session: Session,
    code: str,
    *,
    caller: Caller,
    changes: Mapping[str, Any],
    now: datetime,
    unless_changed: Callable[[LotView], None],
) -> LotView:
    """Change a lot's record.

    Raises:
        NotFound, TokenNeeded, NotAllowed: it is not the caller's.
        PreconditionNeeded, PreconditionStale: from `unless_changed`.
        FixedByListing, FixedByStep, InvalidRequest: as `revise_lot`.
        ListingIncomplete: a listed lot would lose what its listing needs.
        PickedInsideInterval: a listed lot would have been picked inside a spray's interval.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    unless_changed(_view(session, lot, caller, now))
    asked, named = dict(changes), None
    if "cultivar" in asked:
        named = name_cultivar(asked["cultivar"], cultivars.search(session))
        kept = lot.role if named.code == lot.cultivar_code else None
        asked |= {"cultivar": named.denomination, "cultivar_code": named.code}
        asked["role"] = role_of(asked.get("role") or kept, named)
    elif "role" in asked:
        asked["role"] = role_of(asked["role"], _named(session, lot))
    made, booked = steps.find(session, code), bookings.search(session, code)
    if changes.get("block") is not None:
        sprays.lock_record_of(session, code)
    gone = {"booked_kg": booked_kg(booked), "moved_kg": moved_kg(booked)}
    changed = keep_listed(revise_lot(lot, asked, today=now.date(), made=made, **gone))
    if changed.state == "listed":
        require_intervals_kept(session, changed, now=now)
    key = named.key if named else None
    lots.change(session, changed, cultivar_key=key)
    return _view(session, changed, caller, now)


def discard_lot(
    session: Session,
    code: str,
    *,
    caller: Caller,
    now: datetime,
    unless_changed: Callable[[LotView], None],
) -> None:
    """Take a draft out of the books; what a step put into it goes back to where it came from.

    Raises:
        NotFound, TokenNeeded, NotAllowed: it is not the caller's.
        IllegalStep: it was listed, a sheet of it was issued, or kilograms of it were booked.

    """
    sources = {edge.from_code for edge in steps.edges_into(session, [code])}
    lots.lock(session, [code, *sources], now=now)
    lot = lot_to_change(session, code, caller=caller, now=now)
    unless_changed(_view(session, lot, caller, now))
    issued, booked = len(sheets.search(session, code)), len(bookings.search(session, code))
    held = len(quality_holds.search(session, code))
    decide_discard(lot, sheets_issued=issued, bookings_made=booked, holds_placed=held)
    reason = f"lot {code} was discarded"
    for gone in bookings.release_all_into(session, code, now=now, by=caller.name, reason=reason):
        source = lots.get(session, gone.lot_code, now=now)
        room_kg = source.stock_kg - moved_kg(bookings.search(session, source.code))
        back = put_back(source.packages, gone.packages, room_kg=room_kg)
        lots.change_packages(session, source.code, back)
    lots.remove(session, code)


def show_lot(session: Session, code: str, *, caller: Caller, now: datetime) -> LotView:
    """Show a lot to somebody who may know of it.

    Raises:
        NotFound: there is none, or the caller must not know of it.

    """
    return _view(session, lot_to_see(session, code, caller=caller, now=now), caller, now)


def list_own_lots(
    session: Session, *, caller: Caller, state: str | None, after: str | None, limit: int, now: datetime
) -> Sequence[LotView]:
    """The caller's own lots in any state; the specialist sees everybody's.

    Raises:
        TokenNeeded: no known token came along.

    """
    require_known(caller)
    if caller.role == "brewery":
        return []
    found = lots.search_own(
        session, grower_code=caller.party_code, state=state, after=after, limit=limit, now=now
    )
    return view_lots(session, found, now=now)


def _view(session: Session, lot: Lot, caller: Caller, now: datetime) -> LotView:
    (view,) = view_lots(session, [lot], now=now)
    if caller.role == "anyone" and not lot.price_open:
        return replace(view, lot=replace(lot, price_per_kg=None, currency=None))
    return view
