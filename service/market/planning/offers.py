"""Accepting a plan: each parcel becomes an offer, or it is said why it no longer can."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal

from service.errors import IllegalStep, LotOnHold, NotEnoughStock, NotSoldInThatMass
from service.facts import Fact, replace
from service.market.goods.lots import Lot
from service.market.matching.alpha_promised import alpha_promised_kg
from service.market.matching.requests import Request, require_open
from service.market.planning.allocations import Allocation, AllocationPlan, Parcel
from service.market.trade.reservations import Reservation, decide_offer

# What may have come between a plan and its acceptance.
GONE = (IllegalStep, LotOnHold, NotEnoughStock, NotSoldInThatMass)


class OfferLine(Fact, frozen=True, kw_only=True):
    """What became of a parcel: the offer's code, or the refusal that stood against it."""

    request_code: str
    lot_code: str
    mass_kg: Decimal
    reservation_code: str | None = None
    refusal: str | None = None
    detail: str | None = None


def require_acceptable(allocation: Allocation) -> AllocationPlan:
    """The plan of an allocation that was not accepted yet.

    Raises:
        IllegalStep: it was accepted before.

    """
    if allocation.accepted_at is not None:
        raise IllegalStep(
            f"the plan of allocation {allocation.code} was accepted by {allocation.accepted_by} already",
            state="accepted",
        )
    return allocation.plan


def _require_as_planned(request: Request, parcel: Parcel) -> None:
    """Refuse to offer what was planned for another wish; plans from before such keys were kept are taken at their word.

    Raises:
        IllegalStep: the request was changed since.

    """
    if parcel.wish_key not in ("", request.wish_key):
        text = f"request {request.code} was changed after the plan was made; plan again"
        raise IllegalStep(text, state=request.state)


def decide_offers(
    lot: Lot,
    parcels: Sequence[Parcel],
    requests: Mapping[str, Request],
    *,
    promised: Sequence[Reservation],
    held_until: datetime | None,
    now: datetime,
    made_by: str,
) -> tuple[list[Reservation], list[OfferLine]]:
    """The offers of one lot, none of which the others leave without stock, and the parcels that cannot be."""
    offers: list[Reservation] = []
    refused: list[OfferLine] = []
    free = lot
    for parcel in parcels:
        request = requests[parcel.request_code]
        try:
            require_open(request, today=now.date())
            _require_as_planned(request, parcel)
            offer = decide_offer(
                free,
                brewery_code=request.brewery_code,
                request_code=request.code,
                mass_kg=parcel.mass_kg,
                held_until=held_until,
                promised=promised,
                now=now,
                made_by=made_by,
            )
        except GONE as refusal:
            refused.append(
                OfferLine(
                    request_code=parcel.request_code,
                    lot_code=lot.code,
                    mass_kg=parcel.mass_kg,
                    refusal=refusal.code,
                    detail=refusal.detail,
                )
            )
            continue
        alpha_kg = alpha_promised_kg(lot, request, parcel.mass_kg, today=now.date())
        offers.append(replace(offer, alpha_kg=alpha_kg))
        # An offer takes nothing from what is free; two of one plan must not offer the same kilograms.
        free = replace(free, held_kg=free.held_kg + parcel.mass_kg)
    return offers, refused
