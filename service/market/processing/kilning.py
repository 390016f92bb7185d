"""Kiln batches: green hops in, dried hops out, and the lot that they fill."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from service.errors import FixedByListing, IllegalStep, InvalidRequest, NotFound, UnbalancedStep, UnfitGoods
from service.facts import Fact, replace
from service.market.goods.bookings import Booking, require_day_of_lot
from service.market.goods.lots import Lot, accept_lot
from service.science.moisture_trade import wet_for_dry_kg


class KilnBatch(Fact, frozen=True, kw_only=True):
    """One load of the kiln; `from_lot_code` names the lot of wet hops it was taken from, if that stands in the books."""

    code: str = ""
    lot_code: str
    dried_on: date
    wet_kg: Decimal
    dry_kg: Decimal
    wet_moisture_percent: float | None = None
    dry_moisture_percent: float | None = None
    from_lot_code: str | None = None
    note: str | None = None
    made_at: datetime
    made_by: str

    @property
    def loss_kg(self) -> Decimal:
        """What the kiln took: water, and what was spilled."""
        return self.wet_kg - self.dry_kg

    @property
    def dry_matter_left_percent(self) -> float | None:
        """Of the dry matter that went in, what came out by the two moistures; None unless both were measured."""
        if self.wet_moisture_percent is None or self.dry_moisture_percent is None:
            return None
        accounted = wet_for_dry_kg(
            dry_kg=float(self.dry_kg),
            dry_moisture_percent=self.dry_moisture_percent,
            wet_moisture_percent=self.wet_moisture_percent,
        )
        return 100 * accounted / float(self.wet_kg)


def fill_lot(lot: Lot, *, before: Sequence[KilnBatch], new: Sequence[KilnBatch], today: date) -> Lot:
    """Let kiln batches fill a lot: its mass is the sum of what came out of the kiln.

    Raises:
        UnfitGoods: the lot is not of dried cones.
        IllegalStep: its mass was given by hand.
        InvalidRequest, OutOfRange, UnbalancedStep: a batch that cannot be.
        FixedByListing: the lot would hold less than is promised of it.

    """
    if lot.form != "whole_cone":
        raise UnfitGoods(
            f"lot {lot.code} is {lot.form}; a kiln fills a lot of whole_cone",
            lot_code=lot.code,
            form=lot.form,
        )
    filled_kg = sum((batch.dry_kg for batch in before), Decimal(0))
    if (lot.mass_kg or Decimal(0)) != filled_kg:
        raise IllegalStep(
            f"the mass of lot {lot.code} was given as {lot.mass_kg} kg; take it out before batches fill the lot",
            state=lot.state,
        )
    for place, batch in enumerate(new):
        _accept_batch(lot, batch, place, today)
    mass_kg = filled_kg + sum((batch.dry_kg for batch in new), Decimal(0))
    promised_kg = lot.taken_kg + lot.held_kg
    if mass_kg < promised_kg:
        raise FixedByListing(
            f"{promised_kg} kg of lot {lot.code} are promised, and so far {mass_kg} kg were dried: send the batches"
            " together once they cover it",
            lot_code=lot.code,
            promised_kg=promised_kg,
        )
    return accept_lot(replace(lot, mass_kg=mass_kg), today=today)


def empty_of(lot: Lot, *, before: Sequence[KilnBatch], code: str) -> tuple[Lot, KilnBatch]:
    """The lot without one of its batches, as after a slip of the pen, and that batch.

    Raises:
        NotFound: there is none of that code.
        FixedByListing: the lot would hold less than is promised of it.

    """
    batch = next((one for one in before if one.code == code), None)
    if batch is None:
        raise NotFound(f"there is no batch {code}")
    mass_kg = sum((one.dry_kg for one in before if one is not batch), Decimal(0))
    promised_kg = lot.taken_kg + lot.held_kg
    if mass_kg < promised_kg:
        raise FixedByListing(
            f"{promised_kg} kg of lot {lot.code} are promised or gone; without batch {code} it holds {mass_kg} kg",
            lot_code=lot.code,
            promised_kg=promised_kg,
        )
    return replace(lot, mass_kg=mass_kg or None), batch


def bookings_of_batch(bookings: Sequence[Booking], batch: KilnBatch) -> list[Booking]:
    """What a batch booked of its wet hops: one booking of what came out, and one of what was lost."""
    own = [
        b
        for b in bookings
        if b.counts and b.into_lot_code == batch.lot_code and b.booked_on == batch.dried_on
    ]
    wanted = (("moved", batch.dry_kg), ("drying_loss", batch.loss_kg))
    return [
        next(b for b in reversed(own) if b.kind == kind and b.mass_kg == mass_kg) for kind, mass_kg in wanted
    ]


def _accept_batch(lot: Lot, batch: KilnBatch, place: int, today: date) -> None:
    require_day_of_lot(lot, batch.dried_on, name=f"batches/{place}/dried_on", today=today)
    if batch.dry_kg >= batch.wet_kg:
        raise UnbalancedStep(
            f"{batch.wet_kg} kg went into the kiln and {batch.dry_kg} kg came out: nothing was dried",
            in_kg=batch.wet_kg,
            out_kg=batch.dry_kg,
            loss_kg=batch.loss_kg,
            open_kg=batch.loss_kg,
        )
    wet, dry = batch.wet_moisture_percent, batch.dry_moisture_percent
    if wet is not None and dry is not None and dry >= wet:
        text = f"moisture cannot rise in the kiln, from {wet:g} to {dry:g} %"
        raise InvalidRequest(
            text, errors=[{"pointer": f"#/batches/{place}/dry_moisture_percent", "detail": text}]
        )
