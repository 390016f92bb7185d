"""The spray record of a block: what was applied when, and whether picking kept the harvest interval of the
label.

The record belongs to a grower's block, not to a lot; a lot inherits what its block had in its season.
Intervals are compared by date, whatever the season says, and the day of the spray counts as inside. Lots
made of others are judged by the lots they come from. An entry that comes late ends the listing of the lots
it concerns. Entries and listings lock the block's lots first, then the grower.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

from service.errors import IllegalStep, InvalidRequest, NotFound, PickedInsideInterval
from service.facts import Fact, replace
from service.market.goods.lots import Lot, is_future
from service.market.goods.provenance import block_key

LONGEST_INTERVAL_DAYS = 365
LABEL_DECIDES = "The product's label and local law decide; the service only compares dates."


class Spray(Fact, frozen=True, kw_only=True):
    """One entry: a product as its label names it, applied to a block for a season; never edited, at most corrected."""

    code: str = ""
    grower_code: str
    block: str
    season: int
    product: str
    active_ingredient: str
    sprayed_on: date
    harvest_interval_days: int
    note: str | None = None
    corrects: str | None = None
    reason: str | None = None
    corrected_by: str | None = None
    entered_at: datetime
    entered_by: str

    @property
    def is_standing(self) -> bool:
        """Whether no later entry corrected it."""
        return self.corrected_by is None

    @property
    def earliest_picking_on(self) -> date:
        """The first day on which the label's interval has passed."""
        return self.sprayed_on + timedelta(days=self.harvest_interval_days)


class SprayStatement(Fact, frozen=True, kw_only=True):
    """What everybody is told: whether a record is kept (None: that rests with the lots it was made of)."""

    kept: bool | None
    block: str | None
    season: int | None
    words: str


class PickedInside(Fact, frozen=True, kw_only=True):
    """A lot that was picked, or will wholly be, before an entry's interval has passed."""

    lot_code: str
    spray: Spray
    day: date
    is_picked: bool

    @property
    def picked_on(self) -> date | None:
        """The first day of picking inside the interval; None of a lot still on the bine."""
        return self.day if self.is_picked else None

    @property
    def window_closes_on(self) -> date | None:
        """The last day of the picking window of a lot still on the bine."""
        return None if self.is_picked else self.day


def accept_spray(spray: Spray, *, today: date) -> Spray:
    """Let an entry into the record, or name everything in it that cannot be.

    Raises:
        InvalidRequest: with one error for each fault.

    """
    faults = []
    if is_future(spray.sprayed_on, today=today):
        faults.append(
            ("sprayed_on", f"{spray.sprayed_on} is in the future; the record says what was applied")
        )
    if spray.season not in (spray.sprayed_on.year, spray.sprayed_on.year + 1):
        faults.append(
            ("season", f"a spray of {spray.sprayed_on} counts for {spray.sprayed_on.year} or the next season")
        )
    if (spray.corrects is None) != (spray.reason is None):
        missing = "reason" if spray.reason is None else "corrects"
        faults.append((missing, "a correction names the entry it corrects, and its reason"))
    if faults:
        raise InvalidRequest(
            "; ".join(text for _, text in faults),
            errors=[{"pointer": f"#/{name}", "detail": text} for name, text in faults],
        )
    return spray


def correct_spray(old: Spray | None, new: Spray) -> Spray:
    """The old entry marked as corrected by the new one; it stays in the record.

    Raises:
        NotFound: there is no entry of the code that is corrected.
        IllegalStep: it was corrected before.

    """
    if old is None:
        raise NotFound(f"there is no spray entry {new.corrects} of {new.grower_code}")
    if not old.is_standing:
        raise IllegalStep(f"entry {old.code} was corrected by {old.corrected_by}", state="corrected")
    return replace(old, corrected_by=new.code)


def picked_inside(lots: Iterable[Lot], sprays: Sequence[Spray]) -> list[PickedInside]:
    """Every lot and standing entry of its block whose interval its picking did not keep.

    On the day of a spray nobody knows which came first, so it counts as picked after; with an interval of no days
    that is allowed. A lot still on the bine breaks an interval only if its whole window closes too early.
    """
    found = []
    for lot in lots:
        days = _picking(lot)
        if lot.block is None or days is None:
            continue
        own = [s for s in sprays if s.is_standing and s.grower_code == lot.grower_code]
        for spray in (s for s in own if block_key(s.block) == block_key(lot.block)):
            first, last = days
            inside = max(first, spray.sprayed_on)
            if inside < spray.earliest_picking_on and inside <= last:
                found.append(
                    PickedInside(
                        lot_code=lot.code,
                        spray=spray,
                        day=inside,
                        is_picked=lot.harvested_on is not None,
                    )
                )
    return found


def _picking(lot: Lot) -> tuple[date, date] | None:
    if lot.harvested_on is not None and lot.picked_until is not None:
        return lot.harvested_on, lot.picked_until
    # Any day of the window may become the day of picking, so only its last one speaks.
    return (lot.harvest_window_to, lot.harvest_window_to) if lot.harvest_window_to else None


def require_outside_intervals(lot: Lot, sources: Iterable[Lot], sprays: Sequence[Spray]) -> None:
    """Refuse to show a lot to brewers while it, or what it was made of, was picked inside an interval.

    An entry of another grower's is told by its days alone.

    Raises:
        PickedInsideInterval: `entries` names each entry, its days and the earliest picking day.

    """
    inside = picked_inside(sources, sprays)
    if not inside:
        return
    words = [
        f"{_named(found, lot)} of {found.spray.sprayed_on} asks {found.spray.harvest_interval_days} days, so"
        f" {found.lot_code} could be picked from {found.spray.earliest_picking_on} on, {_when(found)}"
        for found in inside
    ]
    raise PickedInsideInterval(
        f"lot {lot.code} is not shown to brewers, since picking lies inside a harvest interval: {'; '.join(words)}."
        f" {LABEL_DECIDES}",
        lot_code=lot.code,
        entries=[
            {
                "spray": found.spray.code if _is_own(found, lot) else None,
                "product": found.spray.product if _is_own(found, lot) else None,
                "lot_code": found.lot_code,
                "sprayed_on": found.spray.sprayed_on.isoformat(),
                "harvest_interval_days": found.spray.harvest_interval_days,
                "earliest_picking_on": found.spray.earliest_picking_on.isoformat(),
                "picked_on": found.day.isoformat() if found.is_picked else None,
                "window_closes_on": None if found.is_picked else found.day.isoformat(),
            }
            for found in inside
        ],
    )


def _is_own(found: PickedInside, lot: Lot) -> bool:
    return found.spray.grower_code == lot.grower_code


def _when(found: PickedInside) -> str:
    return f"not on {found.day}" if found.is_picked else f"and its window closes on {found.day}"


def _named(found: PickedInside, lot: Lot) -> str:
    own = f"entry {found.spray.code} ({found.spray.product})"
    return own if _is_own(found, lot) else "an entry of its grower's"


def season_of(lot: Lot) -> int | None:
    """The season whose record a lot inherits: its crop year, or that of its picking window."""
    if lot.crop_year is not None:
        return lot.crop_year
    return lot.harvest_window_from.year if lot.harvest_window_from else None


def state_spray_record(lot: Lot, *, is_kept: bool, is_made_of_others: bool) -> SprayStatement:
    """Say whether a spray record is kept for a lot; what stands in it is for its grower and for holders of a promise."""
    season = season_of(lot)
    kept: bool | None = is_kept and lot.block is not None
    if lot.block is None and is_made_of_others:
        kept, said = None, "The lots this one was made of have spray records of their own, if any was kept."
    elif lot.block is None:
        said = "No block is named, so no spray record is kept here for this lot; ask the grower."
    elif season is None:
        kept, said = False, f"Block {lot.block} has no season yet, so no spray record."
    elif is_kept:
        said = f"A spray record is kept for block {lot.block}, season {season}."
    else:
        said = f"No spray record was kept here for block {lot.block}, season {season}; ask the grower."
    return SprayStatement(kept=kept, block=lot.block, season=season, words=f"{said} {LABEL_DECIDES}")
