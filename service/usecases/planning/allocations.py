"""Region-wide plans: read the region, plan it, keep the plan, look at it, accept it.

What is held, confirmed or delivered is taken off the needs; an open offer is not, so a second plan may
offer the same again. Accepting a plan never offers the same kilograms twice within it.
"""

import logging
import time
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from service.facts import Fact, replace
from service.market.goods.cultivars import keys_for_search
from service.market.matching.candidates import LotColumns
from service.market.matching.oil_similarity import OilTable, oil_table
from service.market.matching.requests import Delivery, Request
from service.market.people.access import Caller, require_specialist
from service.market.planning.allocations import (
    Allocation,
    AllocationOrder,
    AllocationPlan,
    ListedAllocation,
)
from service.market.planning.gathering import Asker, Promised, Region, Yard, gather_region
from service.market.planning.offers import OfferLine, decide_offers, require_acceptable
from service.market.planning.report import plan_region
from service.market.trade.reservations import Reservation
from service.records.goods import cultivars, lots
from service.records.matching import matching, oil_shares, requests
from service.records.people import parties
from service.records.planning import allocations
from service.records.session import Session
from service.records.trade import reservations
from service.usecases.matching.oil_wishes import wish_for
from service.usecases.trade.reservations import tell_of

log = logging.getLogger(__name__)
# More open requests than any region has had; more are said, not dropped in silence.
REQUESTS_MAX = 5000
ALL = 1_000_000


class Acceptance(Fact, frozen=True, kw_only=True):
    """What became of an accepted plan, parcel by parcel."""

    allocation_code: str
    offers: tuple[OfferLine, ...]
    refused: tuple[OfferLine, ...]


def make_plan(region: Region, order: AllocationOrder) -> AllocationPlan:
    """Plan a region that was read; it takes seconds, so no transaction is open meanwhile."""
    return plan_region(
        region, order, clock=time.monotonic, log=lambda words: log.info("plan of the region: %s", words)
    )


def keep_allocation(
    session: Session, plan: AllocationPlan, *, order: AllocationOrder, caller: Caller, now: datetime
) -> Allocation:
    """Keep a plan.

    Raises:
        TokenNeeded, NotAllowed: the caller is not the specialist.

    """
    require_specialist(caller)
    return allocations.add(session, Allocation(order=order, plan=plan, asked_at=now, asked_by=caller.name))


def show_allocation(session: Session, code: str, *, caller: Caller) -> Allocation:
    """An allocation with its plan.

    Raises:
        TokenNeeded, NotAllowed: the caller is not the specialist.
        NotFound: there is none of that code.

    """
    require_specialist(caller)
    return allocations.get(session, code)


def list_allocations(
    session: Session, *, caller: Caller, after: int | None, limit: int
) -> Sequence[tuple[ListedAllocation, int]]:
    """Allocations without their plans, newest first.

    Raises:
        TokenNeeded, NotAllowed: the caller is not the specialist.

    """
    require_specialist(caller)
    return allocations.search(session, after=after, limit=limit)


def read_region(session: Session, order: AllocationOrder, *, caller: Caller, now: datetime) -> Region:
    """Read what is wanted and what is free, as it stands now.

    Raises:
        TokenNeeded, NotAllowed: the caller is not the specialist.

    """
    require_specialist(caller)
    log.info("plan of the region: reading what is wanted and what is free")
    today = now.date()
    wanted, is_cut = open_askers(session, now=now, limit=REQUESTS_MAX)
    free = free_lots(session, wanted, now=now)
    wanted, oil = _with_wishes(session, wanted, free, now=now)
    region = gather_region(wanted, free, yards_of(session), order=order, today=today, oil=oil)
    return replace(region, cautions=(*region.cautions, *_left_out(len(free), is_cut=is_cut)))


def _with_wishes(
    session: Session, askers: Sequence[Asker], free: LotColumns, *, now: datetime
) -> tuple[list[Asker], OilTable | None]:
    """The askers with the oil profiles they wish for, and the oil of the lots if any of them does."""
    if all(asker.request.oil_like is None for asker in askers):
        return list(askers), None
    regional = cultivars.search(session)
    wishing = [
        replace(asker, oil_wish=wish_for(session, asker.request, regional=regional, now=now))
        for asker in askers
    ]
    return wishing, oil_table(oil_shares.oil_shares_of(session, free.code))


def open_askers(session: Session, *, now: datetime, limit: int) -> tuple[list[Asker], bool]:
    """The newest open requests, oldest first, with what is promised for each; and whether older ones were left out."""
    found = requests.search(
        session, brewery_code=None, state="open", today=now.date(), after=None, limit=limit + 1
    )
    breweries = {party.code: party for party in parties.search(session, "brewery", after=None, limit=ALL)}
    promised = reservations.add_up_for_requests(session, now=now)
    regional = cultivars.search(session)
    askers = [
        Asker(
            request=request,
            brewery_name=breweries[request.brewery_code].name,
            near=breweries[request.brewery_code].unit_vector,
            cultivar_keys=tuple(k for name in request.cultivars for k in keys_for_search(name, regional)),
            promised=promised.get(request.code, Promised()),
        )
        for request, _ in reversed(found[:limit])
    ]
    return askers, len(found) > limit


def free_lots(session: Session, askers: Sequence[Asker], *, now: datetime) -> LotColumns:
    """The listed lots that have anything free, the nearest to the middle of the breweries first, at most 5,000."""
    today = now.date()
    near = _middle(askers)
    return matching.candidates(
        session,
        _of_anything(today),
        cultivar_keys=(),
        near=near,
        today=today,
        now=now,
        certified=any(asker.request.certifications for asker in askers),
    )


def yards_of(session: Session) -> dict[str, Yard]:
    """Where every grower is."""
    return {
        party.code: Yard(name=party.name, at=party.unit_vector)
        for party in parties.search(session, "grower", after=None, limit=ALL)
    }


def _left_out(free: int, *, is_cut: bool) -> list[str]:
    said = []
    if is_cut:
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


def accept_plan(
    session: Session, code: str, *, caller: Caller, held_until: datetime | None, now: datetime
) -> Acceptance:
    """Make an offer of each parcel that is still free; the others are named with the reason.

    Raises:
        TokenNeeded, NotAllowed: the caller is not the specialist.
        NotFound: there is none of that code.
        IllegalStep: it was accepted before.
        OutOfRange: the offers would end in the past or after 60 days.

    """
    require_specialist(caller)
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
            made_by=caller.name,
        )
        offers += made
        refused += failed
    allocations.accept(session, code, at=now, by=caller.name)
    return Acceptance(allocation_code=code, offers=tuple(_kept(session, offers)), refused=tuple(refused))


def _kept(session: Session, offers: Sequence[Reservation]) -> list[OfferLine]:
    lines = []
    for offer in sorted(offers, key=lambda o: (o.brewery_code, o.request_code or "", o.lot_code)):
        coded = replace(offer, code=reservations.next_code(session, offer.brewery_code))
        reservations.add(session, coded)
        # The specialist spoke: the growers in whose name it did are told as well.
        tell_of(session, coded, by_side=None, now=coded.made_at)
        lines.append(
            OfferLine(
                request_code=str(coded.request_code),
                lot_code=coded.lot_code,
                mass_kg=coded.mass_kg,
                reservation_code=coded.code,
            )
        )
    return lines
