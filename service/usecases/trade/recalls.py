"""Recalling a lot and all that was made of it."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from service.facts import replace
from service.market.goods.lots import Lot
from service.market.goods.quality_holds import QualityHold, after_lifting, put_on_hold
from service.market.people.access import Caller, acting_party, require_known
from service.market.trade.notices import Event
from service.market.trade.recalls import (
    Recall,
    as_seen_by,
    decide_acknowledgement,
    decide_closing,
    holders_of,
)
from service.records.goods import lots, quality_holds
from service.records.processing import steps
from service.records.session import Session
from service.records.trade import outbox, recalls, receipts, reservations
from service.usecases.goods.lot_access import lot_to_change


def open_recall(
    session: Session, *, caller: Caller, lot_code: str, concern: str, words: str, now: datetime
) -> Recall:
    """Stop a lot with all that was made of it, and name everybody who has kilograms of it.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's.

    """
    lot_to_change(session, lot_code, caller=caller, now=now)
    family = _family(session, lot_code, now)
    root = family[lot_code]
    promises = [p for code in family for p in reservations.search_of_lot(session, code)]
    received = [receipts.find(session, p.code) for p in promises if p.delivered_kg is not None]
    counted = {receipt.reservation_code: receipt.packages for receipt in received if receipt is not None}
    recall = Recall(
        code=recalls.next_code(session, root.grower_code),
        lot_code=lot_code,
        grower_code=root.grower_code,
        concern=concern,
        words=words,
        opened_at=now,
        opened_by=caller.name,
        lines=tuple(holders_of(family, promises, counted=counted, now=now)),
    )
    recalls.add(session, recall)
    outbox.add(session, Event(kind="recall_opened", lot_code=lot_code, recall_code=recall.code, made_at=now))
    for lot in family.values():
        hold = QualityHold(
            lot_code=lot.code,
            concern=concern,
            words=words,
            recall_code=recall.code,
            placed_at=now,
            placed_by=caller.name,
        )
        quality_holds.add(session, hold)
        lots.change(session, put_on_hold(lot))
    return as_seen_by(recalls.get(session, recall.code), caller)


def _family(session: Session, lot_code: str, now: datetime) -> dict[str, Lot]:
    """A lot and all that was made of it, locked in the order of their codes.

    Asked again once all are locked: what was made of them meanwhile belongs to them too.
    """
    known: set[str] = set()
    reached = {lot_code}
    while reached - known:
        known |= reached
        for code in sorted(known):
            lots.get(session, code, now=now, lock=True)
        reached = {edge.into_code for edge in steps.descendants(session, lot_code)}
    return {code: lots.get(session, code, now=now) for code in sorted(known)}


def show_recall(session: Session, code: str, *, caller: Caller) -> Recall:
    """A recall as somebody may see it.

    Raises:
        TokenNeeded: no known token came along.
        NotFound: there is none, or it does not concern the caller.

    """
    require_known(caller)
    return as_seen_by(recalls.get(session, code), caller)


def list_recalls(
    session: Session, *, caller: Caller, after: int | None, limit: int
) -> Sequence[tuple[Recall, int]]:
    """The recalls that concern the caller, newest first; the specialist sees all.

    Raises:
        TokenNeeded: no known token came along.

    """
    require_known(caller)
    concerning = None if caller.is_specialist else caller.name
    found = recalls.search(session, concerning=concerning, after=after, limit=limit)
    return [(as_seen_by(recall, caller), number) for recall, number in found]


def acknowledge_recall(
    session: Session,
    code: str,
    *,
    caller: Caller,
    holder: tuple[str, str | None],
    left_kg: Decimal | None,
    words: str | None,
    now: datetime,
) -> Recall:
    """Let a holder say that it was reached, and what is left.

    Raises:
        TokenNeeded, NotAllowed, InvalidRequest: it is not clear, or not allowed, for whom the caller speaks.
        NotFound, IllegalStep, OutOfRange: as `decide_acknowledgement`.

    """
    require_known(caller)
    kind, named = holder
    party = acting_party(caller, kind=kind, named=named)
    recall = recalls.get(session, code, lock=True)
    answered = decide_acknowledgement(
        recall, holder=f"{kind}:{party}", left_kg=left_kg, words=words, by=caller.name, now=now
    )
    recalls.change(session, answered)
    return as_seen_by(answered, caller)


def close_recall(session: Session, code: str, *, caller: Caller, finding: str, now: datetime) -> Recall:
    """Close a recall with what was found, and lift the holds it placed; growers list their lots again themselves.

    Raises:
        TokenNeeded, NotFound, NotAllowed, IllegalStep: as `decide_closing`.

    """
    require_known(caller)
    recall = recalls.get(session, code)
    as_seen_by(recall, caller)
    held = {
        lot_code: lots.get(session, lot_code, now=now, lock=True) for lot_code in sorted(recall.lot_codes)
    }
    closed = decide_closing(recalls.get(session, code, lock=True), caller=caller, finding=finding, now=now)
    recalls.change(session, closed)
    for hold in quality_holds.search_of_recall(session, code):
        quality_holds.change(session, replace(hold, lifted_at=now, lifted_by=caller.name, finding=finding))
        lot = held[hold.lot_code]
        left = after_lifting(lot, quality_holds.search(session, hold.lot_code))
        lots.change(session, left)
    return as_seen_by(closed, caller)
