"""Samples that go to a laboratory: booked out of the lot, with a slip by which the result finds it."""

from datetime import date, datetime
from decimal import Decimal

from service.errors import InvalidRequest, OutOfRange
from service.facts import Fact
from service.market.goods.bookings import Booking, decide_booking
from service.market.goods.lots import Lot
from service.market.people.parties import Party
from service.reference.methods import GROUPS as METHOD_GROUPS

# What a laboratory is asked for: the groups of values that a report names a method for.
TESTS = METHOD_GROUPS
SAMPLE_G_MAX = 5000


class Submission(Fact, frozen=True, kw_only=True):
    """One sample sent to a laboratory."""

    code: str = ""
    lot_code: str
    mass_g: int
    sent_on: date
    laboratory: str
    tests: tuple[str, ...]
    note: str | None = None
    booking_code: str | None = None
    made_at: datetime
    made_by: str


class SlipFacts(Fact, frozen=True, kw_only=True):
    """What a slip says."""

    submission: Submission
    lot: Lot
    grower: Party
    public_url: str


def decide_submission(
    lot: Lot,
    *,
    mass_g: int,
    sent_on: date,
    laboratory: str,
    tests: tuple[str, ...],
    note: str | None,
    now: datetime,
    made_by: str,
) -> tuple[Submission, Booking]:
    """Send grams of a lot to a laboratory; they leave the lot.

    Raises:
        OutOfRange: no grams, or over five kilograms, or a day to come or before the picking.
        InvalidRequest: no test is wanted, or one twice.
        IllegalStep, NotEnoughStock: as `decide_booking`.

    """
    if not 0 < mass_g <= SAMPLE_G_MAX:
        raise OutOfRange(
            f"mass_g must be 1 to {SAMPLE_G_MAX} g, not {mass_g}",
            name="mass_g",
            value=mass_g,
            low=1,
            high=SAMPLE_G_MAX,
            unit="g",
        )
    if not tests or len(set(tests)) != len(tests):
        text = "say which tests are wanted, each once"
        raise InvalidRequest(text, errors=[{"pointer": "#/tests", "detail": text}])
    booking = decide_booking(
        lot,
        kind="sample",
        mass_kg=Decimal(mass_g) / 1000,
        booked_on=sent_on,
        reason=f"sample for {laboratory}",
        now=now,
        made_by=made_by,
    )
    submission = Submission(
        lot_code=lot.code,
        mass_g=mass_g,
        sent_on=sent_on,
        laboratory=laboratory,
        tests=tests,
        note=note,
        made_at=now,
        made_by=made_by,
    )
    return submission, booking
