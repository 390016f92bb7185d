"""Who changed what, when and for whom: the lines that every change leaves, and who may read them."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.facts import Fact, replace
from service.market.people.access import Caller

# Written by a command of the house, or by a job that nobody's token started.
HOUSE = "house"
ANOTHER_BREWERY = "another brewery"


class Signature(Fact, frozen=True, kw_only=True):
    """Who does the work of one transaction, and when."""

    by: str
    at: datetime


class Change(Fact, frozen=True, kw_only=True):
    """One line: a record was made, changed or removed.

    `fields` gives before and after by name; a field that is kept back is named without its values. `grower_code` and
    `brewery_code` are the parties whose record it is.
    """

    number: int
    at: datetime
    by: str
    act: str
    kind: str
    code: str | None
    lot_code: str | None = None
    grower_code: str | None = None
    brewery_code: str | None = None
    fields: Mapping[str, Any]

    @property
    def made_for(self) -> str | None:
        """The party for whom the specialist or the house did it; None where somebody did it on their own behalf."""
        if self.by.partition(":")[0] in ("grower", "brewery"):
            return None
        if self.grower_code and self.brewery_code:
            return self._side_that_spoke()
        if self.brewery_code:
            return f"brewery:{self.brewery_code}"
        return f"grower:{self.grower_code}" if self.grower_code else None

    def _side_that_spoke(self) -> str | None:
        for side, code in (("grower", self.grower_code), ("brewery", self.brewery_code)):
            before, after = self.fields.get(f"{side}_confirmed", (None, None))
            if after and not before and self.act == "changed":
                return f"{side}:{code}"
        return None


class Reading(Fact, frozen=True, kw_only=True):
    """What a caller may read of the lines: everything, or those of its own records and of lots it may know whole.

    `of_lot` names a lot the caller is committed to: its lines are read too, save those that are another brewery's.
    """

    everything: bool = False
    grower_code: str | None = None
    brewery_code: str | None = None
    of_lot: str | None = None


def as_read(change: Change, reading: Reading) -> Change:
    """A line as a reader may see it: which other brewery moved a lot's kilograms is not told to a brewery."""
    side, _, code = change.by.partition(":")
    if reading.brewery_code is None or side != "brewery" or code == reading.brewery_code:
        return change
    return replace(change, by=ANOTHER_BREWERY)


def decide_reading(caller: Caller, *, committed_to_lot: str | None) -> Reading:
    """What a known caller may read.

    >>> decide_reading(Caller("specialist"), committed_to_lot=None).everything
    True
    >>> decide_reading(Caller("brewery", "FINCH"), committed_to_lot=None).brewery_code
    'FINCH'

    """
    if caller.is_specialist:
        return Reading(everything=True)
    if caller.role == "grower":
        return Reading(grower_code=caller.party_code)
    return Reading(brewery_code=caller.party_code, of_lot=committed_to_lot)
