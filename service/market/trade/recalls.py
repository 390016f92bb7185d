"""Recalls: every holder of a lot, its parts, blends and pellets is named, notified, and answers.

A recall holds the lot and all that was made of it, under the locks of all. Its lines are written then: who
had what on that day. A grower learns how many lines lie with other growers' customers, not who they are.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from decimal import Decimal

from service.errors import IllegalStep, NotAllowed, NotFound, OutOfRange
from service.facts import Fact, replace
from service.market.goods.lots import Lot, Package
from service.market.people.access import Caller
from service.market.trade.reservations import Reservation


class RecallLine(Fact, frozen=True, kw_only=True):
    """What one holder has, or was promised, of one lot: the grower its stock, a brewery its reservation.

    `packages` of a brewery are those it counted when they arrived; where nobody counted, and for a grower's stock, they
    are the lot's own. `left_kg` is what the holder says is still unused.
    """

    number: int = 0
    lot_code: str
    grower_code: str
    holder: str
    reservation_code: str | None = None
    state: str
    mass_kg: Decimal
    packages: tuple[Package, ...] = ()
    acknowledged_at: datetime | None = None
    acknowledged_by: str | None = None
    left_kg: Decimal | None = None
    words: str | None = None


class Recall(Fact, frozen=True, kw_only=True):
    """A recall of a lot and all that was made of it.

    `elsewhere` counts, for the grower whose lot it is, the lines of holders in other growers' hands that it is not shown.
    """

    code: str
    lot_code: str
    grower_code: str
    concern: str
    words: str
    opened_at: datetime
    opened_by: str
    closed_at: datetime | None = None
    closed_by: str | None = None
    finding: str | None = None
    lines: tuple[RecallLine, ...] = ()
    elsewhere: int = 0
    elsewhere_unanswered: int = 0

    @property
    def is_open(self) -> bool:
        """Whether it still stops its lots."""
        return self.closed_at is None

    @property
    def lot_codes(self) -> tuple[str, ...]:
        """The lots that it reaches."""
        return tuple(dict.fromkeys(line.lot_code for line in self.lines))

    @property
    def unanswered(self) -> int:
        """How many lines nobody acknowledged yet."""
        return sum(line.acknowledged_at is None for line in self.lines)


def holders_of(
    lots: Mapping[str, Lot],
    promises: Sequence[Reservation],
    *,
    counted: Mapping[str, tuple[Package, ...]],
    now: datetime,
) -> Iterator[RecallLine]:
    """Who holds what of the lots a recall reaches: each grower its stock, each brewery its part.

    A grower's stock is what is neither delivered nor moved on; what is promised lies in it, so that no kilogram is
    missing and the promised ones stand twice: at the grower, and at the brewery as not yet delivered. What a brewery
    gave back is the grower's again; one that gave everything back holds nothing. `counted` are the packages that a
    brewery counted at receipt, by the code of the reservation.
    """
    for code in sorted(lots):
        lot = lots[code]
        delivered = [p for p in promises if p.lot_code == code and p.shown_state(now) == "delivered"]
        confirmed = [p for p in promises if p.lot_code == code and p.shown_state(now) == "confirmed"]
        waiting = sum((p.mass_kg for p in confirmed), Decimal(0))
        yield RecallLine(
            lot_code=code,
            grower_code=lot.grower_code,
            holder=f"grower:{lot.grower_code}",
            state="in_stock",
            mass_kg=lot.stock_kg - lot.taken_kg + waiting,
            packages=lot.packages,
        )
        held = [p for p in promises if p.lot_code == code and p.shown_state(now) == "held"]
        for promise in (*delivered, *confirmed, *held):
            has_kg = (promise.delivered_kg or promise.mass_kg) - promise.returned_kg
            if not has_kg:
                continue
            yield RecallLine(
                lot_code=code,
                grower_code=lot.grower_code,
                holder=f"brewery:{promise.brewery_code}",
                reservation_code=promise.code,
                state=promise.shown_state(now),
                mass_kg=has_kg,
                packages=counted.get(promise.code) or lot.packages,
            )


def decide_acknowledgement(
    recall: Recall, *, holder: str, left_kg: Decimal | None, words: str | None, by: str, now: datetime
) -> Recall:
    """Let a holder say that it was reached; each of its lines is answered at once.

    Raises:
        IllegalStep: the recall is closed, or the holder answered before.
        NotFound: the recall does not reach that holder.
        OutOfRange: more would be left than it ever had.

    """
    if not recall.is_open:
        raise IllegalStep(f"recall {recall.code} is closed", state="closed")
    own = [line for line in recall.lines if line.holder == holder]
    if not own:
        raise NotFound(f"there is no recall {recall.code}")
    if all(line.acknowledged_at is not None for line in own):
        raise IllegalStep(f"{holder} acknowledged recall {recall.code} already", state="acknowledged")
    had = sum((line.mass_kg for line in own), Decimal(0))
    if left_kg is not None and not 0 <= left_kg <= had:
        raise OutOfRange(
            f"left_kg must be 0 to the {had} kg that {holder} has or was promised, not {left_kg}",
            name="left_kg",
            value=left_kg,
            low=0,
            high=had,
            unit="kg",
        )
    first = own[0].number

    def answered(line: RecallLine) -> RecallLine:
        if line.holder != holder:
            return line
        left = left_kg if line.number == first else None
        return replace(line, acknowledged_at=now, acknowledged_by=by, words=words, left_kg=left)

    return replace(recall, lines=tuple(map(answered, recall.lines)))


def decide_closing(recall: Recall, *, caller: Caller, finding: str, now: datetime) -> Recall:
    """Close a recall with what was found; the holds it placed are lifted with it.

    Raises:
        IllegalStep: it is closed already.
        NotAllowed: somebody else opened it, and the caller is not the specialist.

    """
    if not recall.is_open:
        raise IllegalStep(f"recall {recall.code} is closed already", state="closed")
    if not caller.is_specialist and recall.opened_by != caller.name:
        raise NotAllowed(f"recall {recall.code} was opened by the {recall.opened_by}, who closes it")
    return replace(recall, closed_at=now, closed_by=caller.name, finding=finding)


def as_seen_by(recall: Recall, caller: Caller) -> Recall:
    """A recall as somebody may see it: the specialist whole, the lot's grower with every line of its own lots, a holder
    its own lines.

    Raises:
        NotFound: it does not concern the caller.

    """
    if caller.is_specialist:
        return recall
    is_openers = caller.is_party("grower", recall.grower_code)
    seen = tuple(
        line
        for line in recall.lines
        if line.holder == caller.name or caller.is_party("grower", line.grower_code)
    )
    if not seen and not is_openers:
        raise NotFound(f"there is no recall {recall.code}")
    if not is_openers:
        return replace(recall, lines=seen)
    hidden = [line for line in recall.lines if line not in seen]
    unanswered = sum(line.acknowledged_at is None for line in hidden)
    return replace(recall, lines=seen, elsewhere=len(hidden), elsewhere_unanswered=unanswered)
