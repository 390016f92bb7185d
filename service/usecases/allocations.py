"""Region-wide allocations: order one, look at it, read the region for it, accept its plan."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from service.facts import Fact, replace
from service.market.access import Visitor, require_specialist
from service.market.allocation_gathering import Asker, Promised, Yard, gather_region
from service.market.allocation_offers import OfferLine, decide_offers, require_acceptable
from service.market.allocation_region import Region
from service.market.allocations import Allocation, AllocationOrder
from service.market.cultivars import keys_for_search
from service.market.requests import Delivery, Request
from service.market.reservations import Reservation
from service.records import allocations, cultivars, lots, matching, parties, requests, reservations
from service.records.session import Session

# More open requests than any region has had; more are said, not dropped in silence.
REQUESTS_MAX = 5000
ALL = 1_000_000
COUNTED = ("held", "confirmed", "delivered")


class Acceptance(Fact, frozen=True, kw_only=True):
    """What became of an accepted plan, parcel by parcel."""

    allocation_code: str
    offers: tuple[OfferLine, ...]
    refused: tuple[OfferLine, ...]


def order_allocation(
    session: Session, *, visitor: Visitor, asked: Mapping[str, Any], now: datetime
) -> Allocation:
    """Ask for a plan; a worker takes it up as soon as no other is being worked on.

    Raises:
        TokenNeeded, NotAllowed: the visitor is not the specialist.

    """
    require_specialist(visitor)
    order = AllocationOrder(**asked)
    return allocations.add(session, Allocation(order=order, asked_at=now, asked_by=visitor.name))


def show_allocation(session: Session, code: str, *, visitor: Visitor) -> Allocation:
    """An allocation with its plan.

    Raises:
        TokenNeeded, NotAllowed: the visitor is not the specialist.
        NotFound: there is none of that code.

    """
    require_specialist(visitor)
    return allocations.get(session, code)


def list_allocations(
    session: Session, *, visitor: Visitor, after: int | None, limit: int
) -> Sequence[tuple[Allocation, int]]:
    """Allocations without their plans, newest first.

    Raises:
        TokenNeeded, NotAllowed: the visitor is not the specialist.

    """
    require_specialist(visitor)
    return allocations.search(session, after=after, limit=limit)


def read_region(session: Session, order: AllocationOrder, *, now: datetime) -> Region:
    """Read what is wanted and what is free, as it stands now."""
    today = now.date()
    found = requests.search(
        session, brewery_code=None, state="open", today=today, after=None, limit=REQUESTS_MAX + 1
    )
    wanted = [request for request, _ in reversed(found[:REQUESTS_MAX])]
    breweries = {party.code: party for party in parties.search(session, "brewery", after=None, limit=ALL)}
    promised = _promised(session, now)
    regional = cultivars.search(session)
    askers = [
        Asker(
            request=request,
            brewery_name=breweries[request.brewery_code].name,
            near=breweries[request.brewery_code].unit_vector,
            cultivar_keys=tuple(k for name in request.cultivars for k in keys_for_search(name, regional)),
            promised=promised.get(request.code, Promised()),
        )
        for request in wanted
    ]
    free = matching.candidates(
        session, _of_anything(today), cultivar_keys=(), near=_middle(askers), today=today, now=now
    )
    yards = {
        party.code: Yard(name=party.name, at=party.unit_vector)
        for party in parties.search(session, "grower", after=None, limit=ALL)
    }
    region = gather_region(askers, free, yards, order=order, today=today)
    return replace(region, cautions=(*region.cautions, *_left_out(len(found), len(free))))


def _left_out(wanted: int, free: int) -> list[str]:
    said = []
    if wanted > REQUESTS_MAX:
        said.append(f"only the {REQUESTS_MAX} newest open requests were planned")
    if free >= matching.CANDIDATES_MAX:
        said.append(
            f"only the {matching.CANDIDATES_MAX} lots nearest to the breweries' middle were planned with"
        )
    return said


def _of_anything(today: date) -> Request:
    """A request that every listed lot with something free meets."""
    return Request(role="dual", deliveries=(Delivery(needed_on=today, mass_kg=Decimal(1)),))


def _middle(askers: Sequence[Asker]) -> tuple[float, float, float]:
    x, y, z = (sum(asker.near[axis] for asker in askers) for axis in range(3))
    length = (x * x + y * y + z * z) ** 0.5
    return (x / length, y / length, z / length) if length > 0 else (1.0, 0.0, 0.0)


def _promised(session: Session, now: datetime) -> dict[str, Promised]:
    """What is held, confirmed or delivered for each request; an offer is no promise yet."""
    by_request: dict[str, list[Reservation]] = {}
    for state in COUNTED:
        for promise, _ in reservations.search(session, now=now, state=state, limit=ALL):
            if promise.request_code is not None:
                by_request.setdefault(promise.request_code, []).append(promise)
    return {code: _summed(found) for code, found in by_request.items()}


def _summed(promises: Sequence[Reservation]) -> Promised:
    held = [p for p in promises if p.state == "held"]
    taken = [p for p in promises if p.state != "held"]
    return Promised(
        mass_kg=sum((p.mass_kg for p in held), Decimal(0)) + sum((p.taken_kg for p in taken), Decimal(0)),
        alpha_kg=sum(p.alpha_kg or 0.0 for p in held) + sum(p.taken_alpha_kg for p in taken),
        lots=len({p.lot_code for p in promises}),
    )


def accept_plan(
    session: Session, code: str, *, visitor: Visitor, held_until: datetime | None, now: datetime
) -> Acceptance:
    """Make an offer of each parcel that is still free; the others are named with the reason.

    Raises:
        TokenNeeded, NotAllowed: the visitor is not the specialist.
        NotFound: there is none of that code.
        IllegalStep: it is not done, or was accepted before.
        OutOfRange: the offers would end in the past or after 60 days.

    """
    require_specialist(visitor)
    plan = require_acceptable(allocations.get(session, code, lock=True))
    taken = sorted((lot for lot in plan.lots if lot.parcels), key=lambda lot: lot.lot_code)
    # All lots first, in the order of their codes, then the breweries, so that nobody waits for each other.
    locked = {lot.lot_code: lots.get(session, lot.lot_code, now=now, lock=True) for lot in taken}
    wanted = {p.request_code: requests.get(session, p.request_code) for lot in taken for p in lot.parcels}
    offers: list[Reservation] = []
    refused: list[OfferLine] = []
    for lot in taken:
        made, failed = decide_offers(
            locked[lot.lot_code],
            lot.parcels,
            wanted,
            promised=reservations.search_of_lot(session, lot.lot_code),
            held_until=held_until,
            now=now,
            made_by=visitor.name,
        )
        offers += made
        refused += failed
    allocations.accept(session, code, at=now, by=visitor.name)
    return Acceptance(allocation_code=code, offers=tuple(_kept(session, offers)), refused=tuple(refused))


def _kept(session: Session, offers: Sequence[Reservation]) -> list[OfferLine]:
    lines = []
    for offer in sorted(offers, key=lambda o: (o.brewery_code, o.request_code or "", o.lot_code)):
        coded = replace(offer, code=reservations.next_code(session, offer.brewery_code))
        reservations.add(session, coded)
        lines.append(
            OfferLine(
                request_code=str(coded.request_code),
                lot_code=coded.lot_code,
                mass_kg=coded.mass_kg,
                reservation_code=coded.code,
            )
        )
    return lines
