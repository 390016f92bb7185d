"""Quality holds: a grower or the specialist stops a lot at once, until somebody records what was found.

A hold is not a state. It withdraws a listed lot and sets `on_hold`; lifting it lets the grower list the lot
again, with all the checks.
"""

from collections.abc import Sequence
from datetime import datetime

from service.errors import IllegalStep, LotOnHold, NotAllowed, NotFound
from service.facts import Fact, replace
from service.market.goods.lots import Lot

CONCERNS = ("mould", "spray", "wrong_cultivar", "foreign_matter", "other")


class QualityHold(Fact, frozen=True, kw_only=True):
    """One concern about a lot: who raised it and when, and what was found when it was lifted."""

    code: str = ""
    lot_code: str
    concern: str
    words: str
    recall_code: str | None = None
    placed_at: datetime
    placed_by: str
    lifted_at: datetime | None = None
    lifted_by: str | None = None
    finding: str | None = None

    @property
    def is_open(self) -> bool:
        """Whether it still stops the lot."""
        return self.lifted_at is None


def put_on_hold(lot: Lot) -> Lot:
    """Stop a lot: it leaves every search, and nothing of it is promised, confirmed, delivered or moved.

    Promises on it stand as they are, so that their holders can be told.
    """
    state = "withdrawn" if lot.state == "listed" else lot.state
    return replace(lot, state=state, on_hold=True)


def decide_lifting(
    holds: Sequence[QualityHold], code: str, *, by: str, is_specialist: bool, finding: str, now: datetime
) -> QualityHold:
    """Lift a hold with what was found.

    Raises:
        NotFound: the lot has no such hold.
        IllegalStep: it was lifted before, or a recall that is open placed it.
        NotAllowed: the specialist placed it, and somebody else would lift it.

    """
    hold = find_hold(holds, code)
    if not hold.is_open:
        raise IllegalStep(f"hold {code} was lifted already", state="lifted")
    if hold.recall_code is not None:
        raise IllegalStep(
            f"hold {code} belongs to recall {hold.recall_code}; it is lifted when that is closed",
            state="recalled",
        )
    if not is_specialist and hold.placed_by != by:
        raise NotAllowed(f"hold {code} was placed by the {hold.placed_by}, who lifts it")
    return replace(hold, lifted_at=now, lifted_by=by, finding=finding)


def after_lifting(lot: Lot, holds: Sequence[QualityHold]) -> Lot:
    """The lot once a hold was lifted: free of holds only when none is left, and listed again only by its grower."""
    return replace(lot, on_hold=any(hold.is_open for hold in holds))


def find_hold(holds: Sequence[QualityHold], code: str) -> QualityHold:
    """One of a lot's holds.

    Raises:
        NotFound: there is none of that code.

    """
    for hold in holds:
        if hold.code == code:
            return hold
    raise NotFound(f"there is no hold {code}")


def require_not_on_hold(lot: Lot) -> None:
    """Refuse whatever would bring kilograms of a stopped lot nearer to a beer.

    Raises:
        LotOnHold: it is stopped.

    """
    if lot.on_hold:
        raise LotOnHold(
            f"lot {lot.code} is on hold; nothing of it is listed, promised, moved or delivered until the hold is lifted",
            lot_code=lot.code,
        )
