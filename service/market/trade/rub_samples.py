"""Samples for the rub: a brewery asks for grams, rubs and smells them, and takes the lot or not.

Selecting a sampled lot is an offer by the brewery: it takes nothing until the grower confirms and that much
is still free. Evaluating a sample gives no priority; a brewery that wants the lot reserved must place a
hold. Grams that were sent are not reversed: they are not in the lot again.
"""

from datetime import date, datetime
from decimal import Decimal

from service.errors import IllegalStep, NotAllowed, OutOfRange
from service.facts import Fact, replace
from service.market.goods.bookings import Booking, decide_booking
from service.market.goods.lots import Lot, is_future
from service.market.goods.quality_holds import require_not_on_hold

STATES = ("asked", "approved", "declined", "sent", "received", "given_up")
# Enough for a few brewers to rub and brew a small pot with; house rule, assumption, no source.
SAMPLE_G_MAX = 2000
GRAMS_PER_KG = 1000
RUB_WORDS = (
    "Rub a handful, smell it warm, and write down what you smell before you read what others wrote. Keep hops away from "
    "dogs: they can kill within hours, and no safe amount is known."
)


class RubSample(Fact, frozen=True, kw_only=True):
    """A sample asked for; `notes` are the brewery's own unless it shares them."""

    code: str = ""
    lot_code: str
    grower_code: str
    brewery_code: str
    state: str = "asked"
    mass_g: int
    words: str | None = None
    answer: str | None = None
    sent_on: date | None = None
    received_on: date | None = None
    booking_code: str | None = None
    notes: str | None = None
    notes_shared: bool = False
    reservation_code: str | None = None
    made_at: datetime
    made_by: str
    changed_at: datetime
    changed_by: str

    @property
    def mass_kg(self) -> Decimal:
        """The sample in kilograms."""
        return Decimal(self.mass_g) / GRAMS_PER_KG


def decide_sample(
    lot: Lot, *, brewery_code: str, mass_g: int, words: str | None, now: datetime, made_by: str
) -> RubSample:
    """Ask for a sample of a listed lot.

    Raises:
        IllegalStep: the lot is not listed, or not picked yet.
        LotOnHold: a concern about it is open.
        OutOfRange: no grams, or more than two kilograms.

    """
    require_not_on_hold(lot)
    if lot.state != "listed" or lot.mass_kg is None:
        state = lot.readiness if lot.state == "listed" else lot.state
        raise IllegalStep(
            f"lot {lot.code} is {state}; samples are drawn of listed lots that are picked", state=state
        )
    if not 0 < mass_g <= SAMPLE_G_MAX:
        raise OutOfRange(
            f"mass_g must be 1 to {SAMPLE_G_MAX} g, not {mass_g}",
            name="mass_g",
            value=mass_g,
            low=1,
            high=SAMPLE_G_MAX,
            unit="g",
        )
    return RubSample(
        lot_code=lot.code,
        grower_code=lot.grower_code,
        brewery_code=brewery_code,
        mass_g=mass_g,
        words=words,
        made_at=now,
        made_by=made_by,
        changed_at=now,
        changed_by=made_by,
    )


def answer_sample(
    sample: RubSample, *, approves: bool, answer: str | None, by: str, now: datetime
) -> RubSample:
    """Let the grower approve or decline.

    Raises:
        IllegalStep: it was answered before, or given up.

    """
    _require(sample, ("asked",), "answered")
    state = "approved" if approves else "declined"
    return replace(sample, state=state, answer=answer, changed_at=now, changed_by=by)


def send_sample(
    sample: RubSample, lot: Lot, *, sent_on: date, by: str, now: datetime
) -> tuple[RubSample, Booking]:
    """Send it: its grams leave the lot.

    Raises:
        IllegalStep: it was not approved.
        LotOnHold: a concern about the lot is open.
        OutOfRange, NotEnoughStock: as `decide_booking`.

    """
    _require(sample, ("approved",), "sent")
    require_not_on_hold(lot)
    booking = decide_booking(
        lot,
        kind="sample",
        mass_kg=sample.mass_kg,
        booked_on=sent_on,
        reason=f"sample {sample.code} for {sample.brewery_code}",
        now=now,
        made_by=by,
    )
    return replace(sample, state="sent", sent_on=sent_on, changed_at=now, changed_by=by), booking


def require_not_sent(booking: Booking, sample: RubSample | None) -> None:
    """Refuse to take a booking back while its grams are a sample on the way to the brewery, or there.

    Raises:
        IllegalStep: they are.

    """
    if sample is not None and sample.state in ("sent", "received"):
        raise IllegalStep(
            f"booking {booking.code} is sample {sample.code}, which was sent to {sample.brewery_code}; its grams do"
            " not come back",
            state=sample.state,
        )


def receive_sample(sample: RubSample, *, received_on: date, by: str, now: datetime) -> RubSample:
    """Record that it came.

    Raises:
        IllegalStep: it was not sent.
        OutOfRange: a day before it was sent, or to come.

    """
    _require(sample, ("sent",), "received")
    if is_future(received_on, today=now.date()) or (sample.sent_on and received_on < sample.sent_on):
        raise OutOfRange(
            f"received_on must be {sample.sent_on} (sending) to {now.date()} (today), not {received_on}",
            name="received_on",
            value=received_on,
            low=sample.sent_on,
            high=now.date(),
            unit="",
        )
    return replace(sample, state="received", received_on=received_on, changed_at=now, changed_by=by)


def note_sample(sample: RubSample, *, notes: str | None, shared: bool, by: str, now: datetime) -> RubSample:
    """Write what was smelled; the words are the brewery's own unless it shares them.

    Raises:
        IllegalStep: it was not received.

    """
    _require(sample, ("received",), "noted")
    return replace(sample, notes=notes, notes_shared=shared, changed_at=now, changed_by=by)


def select_sample(sample: RubSample, *, reservation_code: str, by: str, now: datetime) -> RubSample:
    """Tie the promise that the sample led to, to the sample.

    Raises:
        IllegalStep: it was not received, or it led to one before.

    """
    require_selectable(sample)
    return replace(sample, reservation_code=reservation_code, changed_at=now, changed_by=by)


def require_selectable(sample: RubSample) -> None:
    """Refuse a second promise for one sample, and one before it came.

    Raises:
        IllegalStep: as said.

    """
    _require(sample, ("received",), "selected")
    if sample.reservation_code is not None:
        raise IllegalStep(
            f"sample {sample.code} led to reservation {sample.reservation_code} already", state="selected"
        )


def give_up_sample(sample: RubSample, *, by: str, now: datetime) -> RubSample:
    """Let the brewery give up what was not sent yet.

    Raises:
        IllegalStep: it was sent, declined or given up.

    """
    _require(sample, ("asked", "approved"), "given up")
    return replace(sample, state="given_up", changed_at=now, changed_by=by)


def require_side(sample: RubSample, side: str | None, *, wanted: str, what: str) -> None:
    """Refuse a step of the other side; None is the specialist, who acts for either.

    Raises:
        NotAllowed: it is the other side.

    """
    if side not in (None, wanted):
        raise NotAllowed(f"the {wanted} {what} of sample {sample.code}")


def as_seen_from(sample: RubSample, side: str | None) -> RubSample:
    """The sample as one side sees it: notes that were not shared are the brewery's alone, not the specialist's either."""
    if side == "brewery" or sample.notes_shared:
        return sample
    return replace(sample, notes=None)


def _require(sample: RubSample, states: tuple[str, ...], what: str) -> None:
    if sample.state not in states:
        raise IllegalStep(f"sample {sample.code} is {sample.state}; it cannot be {what}", state=sample.state)
