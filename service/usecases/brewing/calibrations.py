"""A brewery keeps its measured brews, one at a time; its own utilization follows from them."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import NotAllowed
from service.market.brewing.brew_making import lot_codes
from service.market.brewing.calibrations import (
    MOST_BREWS,
    MeasuredBrew,
    UtilizationFit,
    accept_measured_brew,
    fit_of_brews,
    hops_of_brew,
)
from service.market.people.access import Caller, require_known
from service.records.brewing import measured_brews
from service.records.people import parties
from service.records.session import Session
from service.usecases.goods.lot_access import lots_to_see

BESIDE_THE_BREW = ("brewed_on", "measured_bu", "note")


def file_brew(
    session: Session, brewery_code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> MeasuredBrew:
    """Keep one brew whose bitterness was measured.

    Raises:
        NotFound: there is no such brewery, or the brew names a lot that the caller must not know of.
        TokenNeeded, NotAllowed: this is not that brewery, nor the specialist.
        FigureMissing, NoStorageModel, InvalidRequest, OutOfRange: the brew cannot be reckoned.

    """
    _require_own(session, caller, brewery_code)
    lots = lots_to_see(session, lot_codes(asked["additions"]), caller=caller, now=now)
    told = {name: value for name, value in asked.items() if name not in BESIDE_THE_BREW}
    brew = accept_measured_brew(
        MeasuredBrew(
            code=measured_brews.next_code(session, brewery_code),
            brewery_code=brewery_code,
            brewed_on=asked["brewed_on"],
            measured_bu=asked["measured_bu"],
            told=told,
            hops=hops_of_brew(told, lots=lots, on=asked["brewed_on"]),
            note=asked.get("note"),
            filed_at=now,
            filed_by=caller.name,
        )
    )
    measured_brews.add(session, brew)
    return brew


def list_brews(
    session: Session, brewery_code: str, *, caller: Caller, after: tuple[datetime, str] | None, limit: int
) -> Sequence[MeasuredBrew]:
    """The measured brews of a brewery, newest filed first.

    Raises:
        NotFound: there is no such brewery.
        TokenNeeded, NotAllowed: this is not that brewery, nor the specialist.

    """
    _require_own(session, caller, brewery_code)
    return measured_brews.newest(session, brewery_code, after=after, limit=limit)


def take_back_brew(session: Session, brewery_code: str, code: str, *, caller: Caller) -> None:
    """Take a measured brew out of the books; the audit trail keeps it.

    Raises:
        NotFound: there is no such brewery, or no such brew of it.
        TokenNeeded, NotAllowed: this is not that brewery, nor the specialist.

    """
    _require_own(session, caller, brewery_code)
    measured_brews.remove(session, brewery_code, code)


def utilization_of(
    session: Session, brewery_code: str, *, caller: Caller, base_model: str, alpha_basis: str
) -> UtilizationFit:
    """The utilization that follows from a brewery's measured brews.

    Raises:
        NotFound: there is no such brewery.
        TokenNeeded, NotAllowed: this is not that brewery, nor the specialist.
        UnfitBrews: too few brews, or brews that contradict each other.

    """
    _require_own(session, caller, brewery_code)
    brews = measured_brews.newest(session, brewery_code, limit=MOST_BREWS)
    return fit_of_brews(brewery_code, brews, base_model=base_model, alpha_basis=alpha_basis)


def _require_own(session: Session, caller: Caller, brewery_code: str) -> None:
    require_known(caller)
    parties.get(session, "brewery", brewery_code)
    if not caller.acts_for("brewery", brewery_code):
        raise NotAllowed(f"this token does not belong to {brewery_code}")
