"""Reckoning a brew as somebody: the lots they may know of, and the utilization they may use."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest, NotAllowed, TokenNeeded
from service.facts import replace
from service.market.brewing.base_methods import BASE_METHODS, BREWHOUSE, DEFAULT_MODEL
from service.market.brewing.bitterness import Bitterness, brew_bitterness
from service.market.brewing.brew_making import lot_codes, make_brew
from service.market.brewing.calibrations import (
    MOST_BREWS,
    OwnUtilization,
    brewhouse_method,
    fit_of_brews,
)
from service.market.brewing.methods import Method
from service.market.people.access import Caller
from service.market.storage.storage import StoragePlan
from service.records.brewing import measured_brews
from service.records.session import Session
from service.usecases.goods.lot_access import lots_to_see


def reckon_brew(session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime) -> Bitterness:
    """Estimate the bitterness of each addition and of the whole brew.

    Raises:
        NotFound: a lot does not exist, or the caller must not know of it.
        FigureMissing, NoStorageModel, InvalidRequest, OutOfRange: as `make_brew` and `brew_bitterness`.
        TokenNeeded, NotAllowed: the method is a brewery's own, and this is not that brewery.
        UnfitBrews: the brewery's measured brews give no utilization.

    """
    method = method_of(session, caller, asked)
    lots = lots_to_see(session, lot_codes(asked["additions"]), caller=caller, now=now)
    brew = make_brew(
        asked,
        lots=lots,
        on=asked.get("brewed_on") or now.date(),
        alpha_basis=asked["alpha_basis"],
        plan=plan_of(asked, now=now),
    )
    found = brew_bitterness(brew, method=method, alpha_basis=asked["alpha_basis"])
    return replace(found, own_utilization=own_utilization(session, caller, asked))


def plan_of(asked: Mapping[str, Any], *, now: datetime) -> StoragePlan | None:
    """What the brewer will do with the hops until the brew, or None: they stay as they are stored."""
    storage = asked.get("storage")
    if storage is None:
        return None
    return StoragePlan(
        from_on=storage.get("from_") or now.date(),
        kept_at_c=storage["kept_at_c"],
        packing=storage.get("packing"),
    )


def method_of(session: Session, caller: Caller, asked: Mapping[str, Any]) -> Method:
    """The method that is asked for; a brewery's own follows from the measured brews that it keeps.

    Raises:
        TokenNeeded, NotAllowed: this is not that brewery, nor the specialist.
        InvalidRequest: the specialist named no brewery.
        UnfitBrews: the brewery keeps too few measured brews, or they contradict each other.

    """
    if asked["method"] != BREWHOUSE:
        return BASE_METHODS[asked["method"]]
    if caller.role == "anyone":
        raise TokenNeeded("a brewery's own utilization needs its token")
    code = _brewery_code(caller, asked)
    if code is None:
        text = "name the brewery whose utilization is meant"
        if caller.is_specialist:
            raise InvalidRequest(text, errors=[{"pointer": "#/brewery_code", "detail": text}])
        raise NotAllowed("only a brewery or the specialist may use a brewery's own utilization")
    if not caller.acts_for("brewery", code):
        raise NotAllowed(f"this token does not belong to {code}")
    return brewhouse_method(
        fit_of_brews(
            code,
            measured_brews.newest(session, code, limit=MOST_BREWS),
            base_model=asked.get("base_model") or DEFAULT_MODEL,
            alpha_basis=asked["alpha_basis"],
        )
    )


def own_utilization(session: Session, caller: Caller, asked: Mapping[str, Any]) -> OwnUtilization | None:
    """What the brewery that asks keeps to reckon with, or None where nobody's brews are meant."""
    code = _brewery_code(caller, asked)
    if code is None:
        return None
    return OwnUtilization(
        brewery_code=code,
        brews=measured_brews.count(session, code),
        is_used=asked["method"] == BREWHOUSE,
    )


def _brewery_code(caller: Caller, asked: Mapping[str, Any]) -> str | None:
    code: str | None = asked.get("brewery_code")
    return code or (caller.party_code if caller.role == "brewery" else None)
