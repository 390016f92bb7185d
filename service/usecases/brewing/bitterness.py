"""The bitterness of a brew whose additions may name lots, and how much of a lot it takes."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest
from service.facts import replace
from service.market.brewing.bitterness import Bitterness
from service.market.brewing.brew_making import lot_codes, make_brew
from service.market.brewing.doses import Dose, DoseWish, decide_dose
from service.market.people.access import Caller
from service.records.session import Session
from service.usecases.brewing.brews import method_of, own_utilization, plan_of, reckon_brew
from service.usecases.goods.lot_access import lots_to_see


def bitterness_of_brew(
    session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> Bitterness:
    """Estimate the bitterness of each addition and of the whole brew.

    Raises:
        NotFound, FigureMissing, NoStorageModel, InvalidRequest, OutOfRange: as `reckon_brew`.
        TokenNeeded, NotAllowed, UnfitBrews: as `reckon_brew`.

    """
    return reckon_brew(session, caller=caller, asked=asked, now=now)


def dose_hops(session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime) -> Dose:
    """Find how much of a lot a wanted bitterness takes, or how much of it in place of another hop.

    Raises:
        NotFound, FigureMissing, NoStorageModel, InvalidRequest, OutOfRange: as `bitterness_of_brew`.
        TokenNeeded, NotAllowed, UnfitBrews: as `bitterness_of_brew`.

    """
    method = method_of(session, caller, asked)
    wish = DoseWish(
        wanted_ibu=asked.get("wanted_ibu"),
        share_percent=asked.get("share_percent"),
        replaces=asked.get("replaces"),
    )
    told, place = _with_dose(asked, wish)
    everything = [*asked["additions"], *told["additions"]]
    lots = lots_to_see(session, lot_codes(everything), caller=caller, now=now)
    ground = {
        "lots": lots,
        "on": asked.get("brewed_on") or now.date(),
        "alpha_basis": asked["alpha_basis"],
        "plan": plan_of(asked, now=now),
    }
    replaced = None
    if wish.replaces is not None:
        replaced = make_brew(asked, **ground).additions[place]
    lot = lots.get(asked["dose"].get("lot_code") or "")
    dose = decide_dose(
        make_brew(told, **ground),
        wish=wish,
        method=method,
        alpha_basis=asked["alpha_basis"],
        lot=lot,
        shows_price=lot is not None and (caller.role != "anyone" or lot.price_open),
        replaced=replaced,
    )
    own = own_utilization(session, caller, asked)
    return replace(dose, bitterness=replace(dose.bitterness, own_utilization=own))


def _with_dose(asked: Mapping[str, Any], wish: DoseWish) -> tuple[dict[str, Any], int]:
    """What was asked, with the dosed hops last, or in the place of those they replace."""
    additions = list(asked["additions"])
    if wish.replaces is None:
        return {
            **asked,
            "additions": [*additions, {**asked["dose"], "mass_g": 1.0, "pointer": "#/dose"}],
        }, len(additions)
    if wish.replaces >= len(additions):
        text = f"there is no addition {wish.replaces}; they are counted from 0"
        raise InvalidRequest(text, errors=[{"pointer": "#/replaces", "detail": text}])
    old = additions[wish.replaces]
    kept = {
        name: old[name]
        for name in ("mass_g", "at", "minutes", "temperature_c", "gravity_sg", "gravity_plato")
        if name in old
    }
    additions[wish.replaces] = {**kept, **asked["dose"], "pointer": "#/dose"}
    return {**asked, "additions": additions}, wish.replaces
