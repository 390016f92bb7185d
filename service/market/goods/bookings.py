"""Kilograms that leave a lot other than by delivery: samples, sweepings, losses, moves into another lot.

Whatever leaves a lot other than by delivery is a booking, so one equation holds for each lot and for the
whole tree, to the gram. A gain is never booked: a lot that weighs more took up water, which dilutes every
figure of its report, or was weighed wrongly, and then its mass is corrected while nothing follows from it.
What a step moved is taken back only as a whole, by discarding the draft it made.
"""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from service.errors import IllegalStep, NotFound, OutOfRange
from service.facts import Fact, replace
from service.market.goods.lots import Lot, Package, is_future
from service.market.goods.stock import require_free

# What a grower books by hand; the steps that change goods book the others.
BY_HAND = ("sample", "sweepings", "drying_loss", "pelletizing_loss", "reweighing_loss")


class Booking(Fact, frozen=True, kw_only=True):
    """Kilograms that left a lot on a day, who booked them and why.

    `into_lot_code` names the lot that a step made of them, or on whose making they were lost; `packages` are those that
    went along. One that was taken back stays in the books and counts no more.
    """

    code: str = ""
    lot_code: str
    kind: str
    mass_kg: Decimal
    booked_on: date
    reason: str
    into_lot_code: str | None = None
    packages: tuple[Package, ...] = ()
    made_at: datetime
    made_by: str
    taken_back_at: datetime | None = None
    taken_back_by: str | None = None
    taken_back_reason: str | None = None

    @property
    def counts(self) -> bool:
        """Whether it still takes its kilograms."""
        return self.taken_back_at is None


def decide_booking(
    lot: Lot,
    *,
    kind: str,
    mass_kg: Decimal,
    booked_on: date,
    reason: str,
    into_lot_code: str | None = None,
    now: datetime,
    made_by: str,
) -> Booking:
    """Book kilograms out of a lot; only free ones leave it.

    Raises:
        IllegalStep: the lot was not weighed yet.
        OutOfRange: the mass is not positive, or the day is to come or before the picking.
        NotEnoughStock: less is free.

    """
    if lot.mass_kg is None:
        raise IllegalStep(
            f"lot {lot.code} was not weighed yet; give its mass_kg before anything leaves it", state=lot.state
        )
    if mass_kg <= 0:
        raise OutOfRange(
            "mass_kg must be over 0: only kilograms that leave the lot are booked",
            name="mass_kg",
            value=mass_kg,
            low=0,
            unit="kg",
        )
    require_day_of_lot(lot, booked_on, name="booked_on", today=now.date())
    require_free(lot, mass_kg)
    return Booking(
        lot_code=lot.code,
        kind=kind,
        mass_kg=mass_kg,
        booked_on=booked_on,
        reason=reason,
        into_lot_code=into_lot_code,
        made_at=now,
        made_by=made_by,
    )


def decide_reweighing(
    lot: Lot,
    *,
    on_hand_kg: Decimal,
    weighed_kg: Decimal,
    booked_on: date,
    reason: str,
    now: datetime,
    made_by: str,
) -> Booking:
    """Book what a lot weighs less than the books say it should.

    On the scale lies all that was neither delivered nor booked: promised kilograms too, which are never booked away.

    Args:
        lot: what was weighed.
        on_hand_kg: what the books say is there.
        weighed_kg: what the scale says.
        booked_on: the day of weighing.
        reason: why it was weighed, or what became of the rest.
        now: the moment.
        made_by: how the records write who booked it.

    Raises:
        IllegalStep, OutOfRange, NotEnoughStock: as `decide_booking`.
        OutOfRange: it weighs as much as the books say, or more; a gain is never booked.

    """
    if weighed_kg >= on_hand_kg:
        raise OutOfRange(
            f"by the books {on_hand_kg} kg of lot {lot.code} are there, and {weighed_kg} kg were weighed: only a loss"
            " is booked. More than before is water taken up, which thins every figure of the report, or a first"
            " weighing that was wrong; then correct mass_kg",
            name="weighed_kg",
            value=weighed_kg,
            low=0,
            high=on_hand_kg,
            unit="kg",
        )
    return decide_booking(
        lot,
        kind="reweighing_loss",
        mass_kg=on_hand_kg - weighed_kg,
        booked_on=booked_on,
        reason=reason,
        now=now,
        made_by=made_by,
    )


def take_back(booking: Booking, *, reason: str, now: datetime, by: str) -> Booking:
    """Take back what was booked by hand, as after a slip of the pen; its kilograms are free again.

    Raises:
        IllegalStep: it was taken back before, or a step that changed goods booked it.

    """
    if not booking.counts:
        raise IllegalStep(f"booking {booking.code} was taken back already", state="taken_back")
    if booking.into_lot_code is not None:
        raise IllegalStep(
            f"booking {booking.code} went into lot {booking.into_lot_code}; it goes back only with that lot",
            state="moved",
        )
    return replace(booking, taken_back_at=now, taken_back_by=by, taken_back_reason=reason)


def find_booking(bookings: Sequence[Booking], code: str) -> Booking:
    """One of a lot's bookings.

    Raises:
        NotFound: there is none of that code.

    """
    for booking in bookings:
        if booking.code == code:
            return booking
    raise NotFound(f"there is no booking {code}")


def booked_kg(bookings: Sequence[Booking]) -> Decimal:
    """All that bookings took and keep."""
    return sum((booking.mass_kg for booking in bookings if booking.counts), Decimal(0))


def moved_kg(bookings: Sequence[Booking]) -> Decimal:
    """What of that went into other lots."""
    return booked_kg([booking for booking in bookings if booking.kind == "moved"])


def require_day_of_lot(lot: Lot, day: date, *, name: str, today: date) -> None:
    """Refuse a day that is to come, or before the lot was picked.

    Raises:
        OutOfRange: it is.

    """
    picked = lot.harvested_on
    if is_future(day, today=today) or (picked is not None and day < picked):
        raise OutOfRange(
            f"{name} must be {picked or 'a day'} (picking) to {today} (today), not {day}",
            name=name,
            value=day,
            low=picked,
            high=today,
            unit="",
        )
