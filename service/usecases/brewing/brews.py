"""Reckoning a brew as somebody: the lots they may know of, and the utilization they may use."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest, NotAllowed, TokenNeeded
from service.market.brewing.bitterness import Bitterness, brew_bitterness
from service.market.brewing.brew_making import lot_codes, make_brew
from service.market.brewing.calibrations import UtilizationFit, choose_fit
from service.market.people.access import Caller
from service.market.storage.storage import StoragePlan
from service.records.brewing import calibrations
from service.records.session import Session
from service.usecases.goods.lot_access import lots_to_see


def reckon_brew(session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime) -> Bitterness:
    """Estimate the bitterness of each addition and of the whole brew.

    Raises:
        NotFound: a lot does not exist, or the caller must not know of it.
        FigureMissing, NoStorageModel, InvalidRequest, OutOfRange: as `make_brew` and `brew_bitterness`.
        TokenNeeded, NotAllowed: the method is a brewery's own, and this is not that brewery.
        UnfitBrews: the brewery has no utilization of its own on this alpha.

    """
    own = own_fit(session, caller, asked)
    lots = lots_to_see(session, lot_codes(asked["additions"]), caller=caller, now=now)
    brew = make_brew(
        asked,
        lots=lots,
        on=asked.get("brewed_on") or now.date(),
        alpha_basis=asked["alpha_basis"],
        plan=plan_of(asked, now=now),
    )
    return brew_bitterness(brew, method=asked["method"], alpha_basis=asked["alpha_basis"], own=own)


def plan_of(asked: Mapping[str, Any], *, now: datetime) -> StoragePlan | None:
    """What the brewer will do with the hops until the brew, or None: they stay as they are stored."""
    storage = asked.get("storage")
    if storage is None:
        return None
    return StoragePlan(
        from_on=storage.get("from_") or now.date(),
        kept_at_c=storage["kept_at_c"],
        packing=storage["packing"],
    )


def own_fit(session: Session, caller: Caller, asked: Mapping[str, Any]) -> UtilizationFit | None:
    """The brewery's own utilization that is meant, or None where another method is asked for.

    Raises:
        TokenNeeded, NotAllowed: this is not that brewery, nor the specialist.
        InvalidRequest: the specialist named no brewery.
        UnfitBrews: as `choose_fit`.

    """
    if asked["method"] != "brewhouse":
        return None
    if caller.role == "anyone":
        raise TokenNeeded("a brewery's own utilization needs its token")
    code = asked.get("brewery_code") or (caller.party_code if caller.role == "brewery" else None)
    if code is None:
        text = "name the brewery whose utilization is meant"
        if caller.is_specialist:
            raise InvalidRequest(text, errors=[{"pointer": "#/brewery_code", "detail": text}])
        raise NotAllowed("only a brewery or the specialist may use a brewery's own utilization")
    if not caller.acts_for("brewery", code):
        raise NotAllowed(f"this token does not belong to {code}")
    return choose_fit(
        calibrations.search(session, code),
        alpha_basis=asked["alpha_basis"],
        code=asked.get("utilization_fit"),
    )
