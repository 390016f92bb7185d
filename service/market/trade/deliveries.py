"""Deliveries: what the grower brought, what the brewery found, what came back.

A refused delivery stays taken until the grower books the return: the goods are with the brewery, and
kilograms are free only where they are. A return may take several trips. How goods were stored meanwhile is
unknown, and the answer says so.
"""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from service.errors import IllegalStep, InvalidRequest, NotAllowed, OutOfRange
from service.facts import Fact, replace
from service.market.goods.lots import Lot, Package, is_future
from service.market.goods.quality_holds import require_not_on_hold
from service.market.trade.reservations import Reservation

CONDITIONS = ("sound", "torn_packing", "wet", "warm", "musty", "other")
# Two scales differ, and hops take up water, by so much at most; house rule, assumption, no source.
SCALES_DIFFER = Decimal("1.1")
RETURNED_WORDS = (
    "What came back was stored elsewhere: how, the books do not know. Analyse it again, or split it off, before "
    "it is promised to anyone."
)


class Receipt(Fact, frozen=True, kw_only=True):
    """What a brewery found when hops arrived: the kilograms it accepted, and those it refused.

    What was delivered and is neither is short. It stays taken: it left the lot, and it is not with the brewery.
    """

    reservation_code: str
    received_on: date
    packages: tuple[Package, ...] = ()
    accepted_kg: Decimal
    refused_kg: Decimal = Decimal(0)
    temperature_c: float | None = None
    condition: str
    words: str | None = None
    agreed_price_per_kg: Decimal | None = None
    currency: str | None = None
    reason: str | None = None
    made_at: datetime
    made_by: str

    @property
    def received_kg(self) -> Decimal:
        """What arrived, by the brewery's scale."""
        return self.accepted_kg + self.refused_kg

    def short_kg(self, promise: Reservation) -> Decimal:
        """What was delivered and did not arrive; none where the brewery's scale shows more."""
        return max(Decimal(0), (promise.delivered_kg or Decimal(0)) - self.received_kg)


def decide_delivery(
    promise: Reservation,
    lot: Lot,
    *,
    delivered_on: date,
    mass_kg: Decimal,
    by: str,
    now: datetime,
) -> Reservation:
    """Record what the grower delivered; the rest is free again.

    Raises:
        IllegalStep, LotOnHold: it is not confirmed, the lot was not weighed yet, or a concern about it is open.
        OutOfRange: more than was confirmed, or a day that is still to come or before the picking.

    """
    state = promise.shown_state(now)
    if state != "confirmed":
        raise IllegalStep(
            f"reservation {promise.code} is {state}; only what both sides confirmed is delivered", state=state
        )
    require_not_on_hold(lot)
    if lot.mass_kg is None or lot.harvested_on is None:
        raise IllegalStep(
            f"lot {lot.code} has no harvest date and mass yet; give them before a delivery", state="announced"
        )
    if not 0 < mass_kg <= promise.mass_kg:
        raise OutOfRange(
            f"mass_kg must be over 0 and at most the confirmed {promise.mass_kg} kg, not {mass_kg}",
            name="mass_kg",
            value=mass_kg,
            low=0,
            high=promise.mass_kg,
            unit="kg",
        )
    if is_future(delivered_on, today=now.date()) or delivered_on < lot.harvested_on:
        raise OutOfRange(
            f"delivered_on must be {lot.harvested_on} (picking) to {now.date()} (today), not {delivered_on}",
            name="delivered_on",
            value=delivered_on,
            low=lot.harvested_on,
            high=now.date(),
            unit="",
        )
    return replace(
        promise,
        state="delivered",
        delivered_on=delivered_on,
        delivered_kg=mass_kg,
        changed_at=now,
        changed_by=by,
    )


def decide_receipt(promise: Reservation, receipt: Receipt, *, before: Receipt | None, today: date) -> Receipt:
    """Let a receipt into the books; one that corrects an earlier one says why.

    Raises:
        IllegalStep: nothing was delivered, or what was refused came back already.
        InvalidRequest: with one error for each fault.
        OutOfRange: the day lies before the delivery or is to come.

    """
    if promise.state != "delivered" or promise.delivered_on is None:
        raise IllegalStep(
            f"reservation {promise.code} is not delivered; there is nothing to receive", state=promise.state
        )
    if promise.returned_kg:
        raise IllegalStep(
            f"{promise.returned_kg} kg of reservation {promise.code} came back already; its receipt stands",
            state="returned",
        )
    if is_future(receipt.received_on, today=today) or receipt.received_on < promise.delivered_on:
        raise OutOfRange(
            f"received_on must be {promise.delivered_on} (delivery) to {today} (today), not {receipt.received_on}",
            name="received_on",
            value=receipt.received_on,
            low=promise.delivered_on,
            high=today,
            unit="",
        )
    faults = [*_mass_faults(promise, receipt), *_receipt_faults(receipt, before)]
    if faults:
        raise InvalidRequest(
            "; ".join(text for _, text in faults),
            errors=[{"pointer": f"#/{name}", "detail": text} for name, text in faults],
        )
    return receipt


def _mass_faults(promise: Reservation, receipt: Receipt) -> Sequence[tuple[str, str]]:
    delivered = promise.delivered_kg or Decimal(0)
    if not receipt.received_kg:
        return [("accepted_kg", "say how many kilograms were accepted or refused")]
    if receipt.received_kg <= delivered * SCALES_DIFFER:
        return []
    name = "accepted_kg" if receipt.accepted_kg >= receipt.refused_kg else "refused_kg"
    text = f"{delivered} kg were delivered; {receipt.received_kg} kg cannot have arrived. Is a decimal point misplaced?"
    return [(name, text)]


def _receipt_faults(receipt: Receipt, before: Receipt | None) -> Sequence[tuple[str, str]]:
    faults = []
    priced = receipt.agreed_price_per_kg is not None
    if priced and not receipt.accepted_kg:
        faults.append(("agreed_price_per_kg", "a price is agreed for kilograms that were accepted"))
    if priced != (receipt.currency is not None):
        name = "currency" if priced else "agreed_price_per_kg"
        faults.append((name, "a price and its currency are given together"))
    if receipt.refused_kg and not receipt.reason:
        faults.append(("reason", "say why the hops were refused"))
    if before is not None and not receipt.reason:
        faults.append(
            ("reason", f"the hops were received on {before.received_on}; say why that is corrected")
        )
    packed = sum((p.count * p.net_kg for p in receipt.packages), Decimal(0))
    if packed > receipt.received_kg:
        faults.append(("packages", f"the packages hold {packed} kg, {receipt.received_kg} kg net arrived"))
    return faults


def decide_return(
    promise: Reservation,
    receipt: Receipt | None,
    *,
    mass_kg: Decimal,
    returned_on: date,
    by: str,
    now: datetime,
) -> Reservation:
    """Book back what a brewery refused, in one trip or several; until then its kilograms stand with the brewery.

    Raises:
        IllegalStep: the brewery refused nothing, or all that it refused came back already.
        OutOfRange: more than is still with the brewery, or a day before the receipt or to come.

    """
    if receipt is None or not receipt.refused_kg:
        raise IllegalStep(
            f"the brewery refused nothing of reservation {promise.code}; only what was refused comes back",
            state=promise.state,
        )
    outside_kg = min(promise.taken_kg, receipt.refused_kg - promise.returned_kg)
    if outside_kg <= 0:
        raise IllegalStep(
            f"all {promise.returned_kg} kg that were refused of reservation {promise.code} came back already",
            state="returned",
        )
    if not 0 < mass_kg <= outside_kg:
        raise OutOfRange(
            f"mass_kg must be over 0 and at most the {outside_kg} kg that did not come back yet, not {mass_kg}",
            name="mass_kg",
            value=mass_kg,
            low=0,
            high=outside_kg,
            unit="kg",
        )
    if is_future(returned_on, today=now.date()) or returned_on < receipt.received_on:
        raise OutOfRange(
            f"returned_on must be {receipt.received_on} (receipt) to {now.date()} (today), not {returned_on}",
            name="returned_on",
            value=returned_on,
            low=receipt.received_on,
            high=now.date(),
            unit="",
        )
    return replace(promise, returned_kg=promise.returned_kg + mass_kg, changed_at=now, changed_by=by)


def require_grower_side(side: str | None) -> None:
    """Refuse a delivery by anybody but the grower or who acts for it.

    Raises:
        NotAllowed: it is the brewery.

    """
    if side == "brewery":
        raise NotAllowed("the grower records what was delivered")
