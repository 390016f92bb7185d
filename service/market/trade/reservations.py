"""Promises on lots, and their life from offer or hold to delivery.

An offer takes no kilograms, so it ends when its lot is withdrawn. A hold took its kilograms and stays. To a
grower a request that is filled, withdrawn or lapsed does not exist, and the lot is judged before the
request is read: a grower learns of a request only by an offer that stands. Codes count up and can be
guessed, so an unasked offer to an open request is possible.
"""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal

from service.errors import IllegalStep, OutOfRange
from service.facts import Fact, replace
from service.market.goods.lots import Lot
from service.market.goods.quality_holds import require_not_on_hold
from service.market.goods.stock import require_free, require_sold_so

RESERVATION_STATES = ("offered", "held", "confirmed", "delivered", "released")
# What both sides confirmed, and with it what is held: promises that count.
COMMITTED = ("confirmed", "delivered")
LIVE = ("held", *COMMITTED)
SHOWN_RESERVATION_STATES = (*RESERVATION_STATES, "expired")
SIDES = ("grower", "brewery")
# House rules of how long a hold stands; assumption, no source.
HELD_FOR = timedelta(days=7)
HELD_FOR_MAX = timedelta(days=60)


class Reservation(Fact, frozen=True, kw_only=True):
    """A part of a lot promised to a brewery.

    `alpha_kg` is what it brings of alpha acids on the day its request needs it, estimated when it was made.
    """

    code: str = ""
    lot_code: str
    grower_code: str
    brewery_code: str
    request_code: str | None = None
    state: str
    mass_kg: Decimal
    alpha_kg: float | None = None
    held_until: datetime | None = None
    grower_confirmed: bool = False
    brewery_confirmed: bool = False
    delivered_on: date | None = None
    delivered_kg: Decimal | None = None
    returned_kg: Decimal = Decimal(0)
    made_at: datetime
    made_by: str
    changed_at: datetime
    changed_by: str

    def shown_state(self, now: datetime) -> str:
        """The state as callers see it: a hold or an offer past its moment has expired."""
        waits = self.state in ("held", "offered") and self.held_until is not None
        return "expired" if waits and self.held_until is not None and self.held_until <= now else self.state

    @property
    def confirmed_by(self) -> tuple[str, ...]:
        """The sides that confirmed."""
        said = {"grower": self.grower_confirmed, "brewery": self.brewery_confirmed}
        return tuple(side for side in SIDES if said[side])

    @property
    def taken_kg(self) -> Decimal:
        """What the lot counts as taken for it: confirmed mass, or what was delivered and did not come back."""
        if self.state == "confirmed":
            return self.mass_kg
        delivered = self.delivered_kg or Decimal(0)
        return delivered - self.returned_kg if self.state == "delivered" else Decimal(0)

    @property
    def taken_alpha_kg(self) -> float:
        """The alpha acids in what is taken, as estimated when it was promised."""
        return (self.alpha_kg or 0.0) * float(self.taken_kg / self.mass_kg)


class ActingFor(Fact, frozen=True, kw_only=True):
    """The party that the specialist acts for; others act for themselves."""

    brewery_code: str | None = None
    grower_code: str | None = None


class Reserve(ActingFor, frozen=True, kw_only=True):
    """A command: hold part of a lot for a brewery, or offer it for a request."""

    lot_code: str
    mass_kg: Decimal
    request_code: str | None = None
    held_until: datetime | None = None


def decide_hold(
    lot: Lot,
    *,
    brewery_code: str,
    request_code: str | None,
    mass_kg: Decimal,
    held_until: datetime | None,
    promised: Sequence[Reservation] = (),
    now: datetime,
    made_by: str,
) -> Reservation:
    """Hold part of a lot for a brewery, or refuse.

    Raises:
        LotOnHold, IllegalStep: a concern about the lot is open, or it is not listed.
        OutOfRange: the mass is not positive, or the hold ends in the past or after 60 days.
        NotEnoughStock: less is free.
        NotSoldInThatMass: the grower does not sell the lot so.

    """
    until = _until(held_until, default=now + HELD_FOR, now=now)
    _require_goods(lot, mass_kg)
    require_free(lot, mass_kg)
    require_sold_so(lot, mass_kg, promised_kg=promised_kg(promised, now))
    return Reservation(
        lot_code=lot.code,
        grower_code=lot.grower_code,
        brewery_code=brewery_code,
        request_code=request_code,
        state="held",
        mass_kg=mass_kg,
        held_until=until,
        made_at=now,
        made_by=made_by,
        changed_at=now,
        changed_by=made_by,
    )


def decide_offer(
    lot: Lot,
    *,
    brewery_code: str,
    request_code: str | None,
    mass_kg: Decimal,
    held_until: datetime | None,
    side: str = "grower",
    promised: Sequence[Reservation] = (),
    now: datetime,
    made_by: str,
) -> Reservation:
    """Offer part of a lot, or to take it; it counts as that side's word and takes nothing from what is free.

    Raises:
        LotOnHold, IllegalStep: a concern about the lot is open, or it is not listed.
        OutOfRange: the mass is not positive, or the offer ends in the past or after 60 days.
        NotEnoughStock: not even now is that much free.
        NotSoldInThatMass: the grower does not sell the lot so.

    """
    held = decide_hold(
        lot,
        brewery_code=brewery_code,
        request_code=request_code,
        mass_kg=mass_kg,
        held_until=held_until,
        promised=promised,
        now=now,
        made_by=made_by,
    )
    return replace(
        held,
        state="offered",
        held_until=held_until,
        grower_confirmed=side == "grower",
        brewery_confirmed=side == "brewery",
    )


def decide_confirmation(
    promise: Reservation, lot: Lot, *, side: str, by: str, now: datetime, promised: Sequence[Reservation] = ()
) -> Reservation:
    """Let one side confirm; with both the promise is confirmed. Saying it twice changes nothing.

    Raises:
        IllegalStep, LotOnHold: it is delivered, released or expired, or an offer of a lot that is no longer listed; a
            concern about the lot is open.
        NotEnoughStock, NotSoldInThatMass: an offer that others overtook.

    """
    state = promise.shown_state(now)
    if state not in ("offered", "held", "confirmed"):
        raise IllegalStep(
            f"reservation {promise.code} is {state}; it can no longer be confirmed", state=state
        )
    if side in promise.confirmed_by:
        return promise
    said = replace(
        promise,
        grower_confirmed=promise.grower_confirmed or side == "grower",
        brewery_confirmed=promise.brewery_confirmed or side == "brewery",
        changed_at=now,
        changed_by=by,
    )
    require_not_on_hold(lot)
    if not (said.grower_confirmed and said.brewery_confirmed):
        return said
    if state == "offered":
        # An offer took nothing, so it lasts no longer than the listing; a hold does.
        _require_listed(lot)
        require_free(lot, promise.mass_kg)
        require_sold_so(lot, promise.mass_kg, promised_kg=promised_kg(promised, now))
    return replace(said, state="confirmed", held_until=None)


def decide_release(promise: Reservation, *, side: str | None, by: str, now: datetime) -> Reservation:
    """Give a promise up. The grower may until both confirmed, the brewery until delivery.

    Args:
        promise: what is given up.
        side: who gives it up; None for the specialist, who may act for either.
        by: how the records write who did it.
        now: the moment.

    Raises:
        IllegalStep: it is delivered, released or expired, or confirmed and the grower wants out.

    """
    state = promise.shown_state(now)
    if state not in ("offered", "held", "confirmed"):
        raise IllegalStep(f"reservation {promise.code} is {state}; there is nothing to release", state=state)
    if state == "confirmed" and side == "grower":
        raise IllegalStep(
            f"reservation {promise.code} is confirmed by both; only the brewery releases it now", state=state
        )
    return replace(promise, state="released", changed_at=now, changed_by=by)


def side_of(promise: Reservation, *, role: str, party_code: str | None) -> str | None:
    """On which side of a promise a party stands; None for anybody else."""
    parties = {"grower": promise.grower_code, "brewery": promise.brewery_code}
    return role if party_code is not None and parties.get(role) == party_code else None


def _require_goods(lot: Lot, mass_kg: Decimal) -> None:
    require_not_on_hold(lot)
    _require_listed(lot)
    if mass_kg <= 0:
        raise OutOfRange("mass_kg must be over 0", name="mass_kg", value=mass_kg, low=0, unit="kg")


def _require_listed(lot: Lot) -> None:
    if lot.state != "listed":
        raise IllegalStep(f"lot {lot.code} is {lot.state}; only a listed lot is reserved", state=lot.state)


def _until(held_until: datetime | None, *, default: datetime, now: datetime) -> datetime:
    if held_until is None:
        return default
    latest = now + HELD_FOR_MAX
    if not now < held_until <= latest:
        raise OutOfRange(
            f"held_until must lie ahead and within {HELD_FOR_MAX.days} days, not {_moment(held_until)}",
            name="held_until",
            value=_moment(held_until),
            low=_moment(now),
            high=_moment(latest),
            unit="",
        )
    return held_until


def _moment(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")


def promised_kg(promised: Sequence[Reservation], now: datetime) -> Decimal:
    """All that promises count for packages: held, confirmed and delivered, as promised and not returned.

    A delivery that weighed less than was promised, and came back whole, leaves no rest behind.
    """
    with_them = [p for p in promised if p.shown_state(now) in LIVE and p.returned_kg != p.delivered_kg]
    return sum((p.mass_kg - p.returned_kg for p in with_them), Decimal(0))
