"""Delivery notes and the table of deliveries, for both sides of a promise and the specialist."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from service.errors import NotFound
from service.market.people.access import Caller, require_known
from service.market.trade.delivery_notes import (
    DeliveryLine,
    DeliveryNoteFacts,
    NotedParcel,
    require_one_note,
)
from service.market.trade.reservations import Reservation, side_of
from service.records.goods import lots
from service.records.people import parties
from service.records.session import Session
from service.records.trade import receipts, reservations

ALL = 1_000_000


def delivery_note(
    session: Session,
    *,
    caller: Caller,
    parcels: Sequence[Mapping[str, Any]],
    handover: str | None,
    is_cold: bool | None,
    now: datetime,
    address: str,
) -> DeliveryNoteFacts:
    """What the delivery note of one or several promises of one grower and brewery says.

    Raises:
        TokenNeeded, NotFound: one of them is not the caller's.
        IllegalStep, InvalidRequest: as `require_one_note`.

    """
    require_known(caller)
    promises = [_seen(session, told["reservation_code"], caller) for told in parcels]
    known = lots.get_many(session, {promise.lot_code for promise in promises}, now=now)
    noted = tuple(
        NotedParcel(
            promise=promise,
            lot=known[promise.lot_code],
            package_numbers=told.get("package_numbers"),
            gross_kg=told.get("gross_kg"),
        )
        for promise, told in zip(promises, parcels, strict=True)
    )
    require_one_note(noted)
    return DeliveryNoteFacts(
        grower=parties.get(session, "grower", promises[0].grower_code),
        brewery=parties.get(session, "brewery", promises[0].brewery_code),
        parcels=noted,
        handover=handover,
        is_cold=is_cold,
        printed_on=now.date(),
        public_url=address,
    )


def list_deliveries(
    session: Session, *, caller: Caller, since: date | None, until: date | None, now: datetime
) -> list[DeliveryLine]:
    """The caller's own deliveries on either side, oldest first; the specialist sees everybody's.

    Raises:
        TokenNeeded: no known token came along.

    """
    require_known(caller)
    own: dict[str, Any] = {} if caller.is_specialist else {f"{caller.role}_code": caller.party_code}
    found = reservations.search(session, now=now, state="delivered", limit=ALL, **own)
    kept = [promise for promise, _ in found if _within(promise.delivered_on, since, until)]
    kept.sort(key=lambda promise: (promise.delivered_on or date.min, promise.code))
    known = lots.get_many(session, {promise.lot_code for promise in kept}, now=now) if kept else {}
    names = {
        (kind, code): parties.get(session, kind, code).name
        for kind, code in {
            pair for p in kept for pair in (("grower", p.grower_code), ("brewery", p.brewery_code))
        }
    }
    return [
        DeliveryLine(
            promise=promise,
            lot=known[promise.lot_code],
            receipt=receipts.find(session, promise.code),
            grower_name=names["grower", promise.grower_code],
            brewery_name=names["brewery", promise.brewery_code],
        )
        for promise in kept
    ]


def _within(day: date | None, since: date | None, until: date | None) -> bool:
    return day is not None and (since is None or since <= day) and (until is None or day <= until)


def _seen(session: Session, code: str, caller: Caller) -> Reservation:
    promise = reservations.get(session, code)
    side = side_of(promise, role=caller.role, party_code=caller.party_code)
    if side is None and not caller.is_specialist:
        raise NotFound(f"there is no reservation {code}")
    return promise
