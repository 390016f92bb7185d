"""A brewery learns its own utilization from past brews with measured bitterness."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import NotAllowed
from service.market.brewing.bitterness import base_ibus
from service.market.brewing.brew_making import lot_codes, make_brew
from service.market.brewing.calibrations import PastBrew, UtilizationFit, fit_past_brews
from service.market.goods.lots import Lot
from service.market.people.access import Caller, require_known
from service.records.brewing import calibrations
from service.records.people import parties
from service.records.session import Session
from service.usecases.goods.lot_access import lots_to_see


def learn_utilization(
    session: Session, brewery_code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> UtilizationFit:
    """Fit a brewery's factors to its past brews, and keep them.

    Raises:
        NotFound: there is no such brewery, or a brew names a lot that the caller must not know of.
        TokenNeeded, NotAllowed: this is not that brewery, nor the specialist.
        UnfitBrews: too few brews, or brews that contradict each other.
        FigureMissing, NoStorageModel, InvalidRequest, OutOfRange: a brew cannot be reckoned.

    """
    _require_own(session, caller, brewery_code)
    codes = [code for brew in asked["brews"] for code in lot_codes(brew["additions"])]
    lots = lots_to_see(session, codes, caller=caller, now=now)
    brews = [
        _past_brew(told, lots, asked, pointer=f"#/brews/{place}") for place, told in enumerate(asked["brews"])
    ]
    return calibrations.add(
        session,
        brewery_code=brewery_code,
        fit=fit_past_brews(brews, base_model=asked["base_model"], alpha_basis=asked["alpha_basis"]),
        brews=brews,
        note=asked.get("note"),
        made_at=now,
        made_by=caller.name,
    )


def list_utilizations(session: Session, brewery_code: str, *, caller: Caller) -> Sequence[UtilizationFit]:
    """The fits of a brewery, oldest first.

    Raises:
        NotFound: there is no such brewery.
        TokenNeeded, NotAllowed: this is not that brewery, nor the specialist.

    """
    _require_own(session, caller, brewery_code)
    return calibrations.search(session, brewery_code)


def _require_own(session: Session, caller: Caller, brewery_code: str) -> None:
    require_known(caller)
    parties.get(session, "brewery", brewery_code)
    if not caller.acts_for("brewery", brewery_code):
        raise NotAllowed(f"this token does not belong to {brewery_code}")


def _past_brew(
    told: Mapping[str, Any], lots: Mapping[str, Lot], asked: Mapping[str, Any], *, pointer: str
) -> PastBrew:
    brew = make_brew(told, lots=lots, on=told["brewed_on"], alpha_basis=asked["alpha_basis"], pointer=pointer)
    boil_ibu, whirlpool_ibu = base_ibus(brew, model=asked["base_model"])
    plain = {name: value for name, value in told.items() if name not in ("brewed_on", "measured_bu")}
    return PastBrew(
        brewed_on=told["brewed_on"],
        measured_bu=told["measured_bu"],
        boil_ibu=boil_ibu,
        whirlpool_ibu=whirlpool_ibu,
        told=plain,
    )
