"""Filling a lot from the kiln, batch by batch."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import NotAllowed, UnfitGoods
from service.facts import replace
from service.market.goods.listing import keep_listed
from service.market.goods.lots import Lot, Step
from service.market.goods.quality_holds import require_not_on_hold
from service.market.people.access import Caller
from service.market.processing.kilning import KilnBatch, bookings_of_batch, empty_of, fill_lot
from service.market.processing.steps import Input, decide_moves
from service.records.goods import bookings, lots
from service.records.processing import kilning, steps
from service.records.session import Session
from service.usecases.goods.lot_access import lot_to_change, lot_to_see, lots_to_see


def dry_into_lot(
    session: Session, code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> Sequence[KilnBatch]:
    """Let batches of the kiln fill a lot; of wet hops that stand in the books they take the kilograms.

    Raises:
        NotFound, TokenNeeded, NotAllowed: a lot is not the caller's.
        UnfitGoods: the lot is not of dried cones, or a batch is not of wet hops.
        InvalidRequest, IllegalStep, OutOfRange, UnbalancedStep, NotEnoughStock, FixedByListing: as `fill_lot`.

    """
    wet_codes = {b["from_lot_code"] for b in asked["batches"] if b["from_lot_code"]}
    lots_to_see(session, [code, *sorted(wet_codes)], caller=caller, now=now)
    lots.lock(session, [code, *wet_codes], now=now)
    lot = lot_to_change(session, code, caller=caller, now=now)
    for wet_code in sorted(wet_codes):
        _require_wet(lots.get(session, wet_code, now=now), lot)
    before = kilning.search(session, code)
    new = [KilnBatch(lot_code=code, made_at=now, made_by=caller.name, **b) for b in asked["batches"]]
    filled = fill_lot(lot, before=before, new=new, today=now.date())
    lots.change(session, filled)
    for batch in new:
        _take_wet(session, batch, caller, now)
    kept = kilning.add(session, new, lot_code=code)
    days = [batch.dried_on for batch in (*before, *kept)]
    steps.put(
        session,
        Step(
            lot_code=code,
            kind="drying",
            began_on=min(days),
            done_on=max(days),
            made_at=now,
            made_by=caller.name,
        ),
    )
    return kept


def take_batch_out(session: Session, code: str, batch_code: str, *, caller: Caller, now: datetime) -> None:
    """Take a batch out again, as after a slip of the pen; its wet hops are free again.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's, or there is no such batch.
        FixedByListing, ListingIncomplete: the lot would hold less than is promised, or nothing though it is listed.
        LotOnHold: a concern about the lot is open.

    """
    sources = {b.from_lot_code for b in kilning.search(session, code) if b.from_lot_code}
    lots.lock(session, [code, *sources], now=now)
    lot = lot_to_change(session, code, caller=caller, now=now)
    require_not_on_hold(lot)
    before = kilning.search(session, code)
    emptied, batch = empty_of(lot, before=before, code=batch_code)
    lots.change(session, keep_listed(emptied))
    if batch.from_lot_code is not None:
        for booking in bookings_of_batch(bookings.search(session, batch.from_lot_code), batch):
            reason = f"batch {batch_code} of lot {code} was taken out"
            back = replace(booking, taken_back_at=now, taken_back_by=caller.name, taken_back_reason=reason)
            bookings.change(session, back)
    kilning.remove(session, batch)
    if len(before) == 1:
        steps.remove(session, code)


def _require_wet(wet: Lot, lot: Lot) -> None:
    if wet.grower_code != lot.grower_code:
        raise NotAllowed(f"lot {wet.code} belongs to {wet.grower_code}")
    if wet.form != "wet_hop":
        raise UnfitGoods(
            f"lot {wet.code} is {wet.form}; a kiln dries wet_hop", lot_code=wet.code, form=wet.form
        )


def _take_wet(session: Session, batch: KilnBatch, caller: Caller, now: datetime) -> None:
    if batch.from_lot_code is None:
        return
    # Read again for each batch, since the one before took from it.
    wet = lots.get(session, batch.from_lot_code, now=now)
    moves = decide_moves(
        [Input(lot=wet, mass_kg=batch.wet_kg)],
        into_code=batch.lot_code,
        kind="drying",
        out_kg=batch.dry_kg,
        loss_kg=batch.loss_kg,
        done_on=batch.dried_on,
        made_on={},
        now=now,
        made_by=caller.name,
    )
    bookings.add_all(session, moves)


def list_batches(session: Session, code: str, *, caller: Caller, now: datetime) -> Sequence[KilnBatch]:
    """The kiln batches that filled a lot, for those who may see the lot.

    Raises:
        NotFound: there is no such lot, or the caller must not know of it.

    """
    lot_to_see(session, code, caller=caller, now=now)
    return kilning.search(session, code)
