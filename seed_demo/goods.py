"""Steps that change goods in the invented valley: two growers' cones pelletized together, and a part split off."""

from collections.abc import Callable, Mapping
from datetime import datetime
from decimal import Decimal
from itertools import combinations
from typing import Any

from seed_demo.crops import Crop
from service.market.goods.lots import Lot
from service.market.people.access import Caller
from service.records.session import Session
from service.usecases.goods.lab_reports import file_report
from service.usecases.goods.listing import list_lot
from service.usecases.goods.lots import show_lot
from service.usecases.processing.parts import split_lot
from service.usecases.processing.runs import pelletize_lots
from service.usecases.trade.traceability import show_origin

SPECIALIST = Caller("specialist")
# Of a hundred kilograms of cones six are lost on the press of this invented mill.
LOST_SHARE = Decimal("0.06")
NOT_TOLD: Mapping[str, Any] = {"packages": [], "own_lot_number": None, "note": None}
Say = Callable[[str], None]


def load_goods(session: Session, crops: Mapping[str, Crop], *, now: datetime, say: Say) -> None:
    """Pelletize cones of two growers, split a part off another lot, and list what came of both."""
    usual = sorted(code for code, crop in crops.items() if not crop.note)
    found = [show_lot(session, code, caller=SPECIALIST, now=now).lot for code in usual]
    cones = [lot for lot in found if lot.form == "whole_cone" and lot.state == "listed" and lot.packages]
    cones = [lot for lot in cones if lot.readiness == "analysed" and lot.crop_year == cones[-1].crop_year]
    pool = next((p for p in combinations(cones, 2) if _makes_a_pool(*p)), None)
    if pool is not None:
        say(f"  {_press(session, pool, crops, now=now)}")
    rest = (lot for lot in cones if lot not in (pool or ()) and lot.packages[0].count >= 4)
    whole = next(rest, None)
    if whole is not None:
        say(f"  {_split(session, whole, now=now)}")


def _makes_a_pool(one: Lot, other: Lot) -> bool:
    return one.cultivar == other.cultivar and one.grower_code != other.grower_code


def _half_kg(lot: Lot) -> Decimal:
    package = lot.packages[0]
    return max(1, package.count // 2) * package.net_kg


def _press(session: Session, pool: tuple[Lot, Lot], crops: Mapping[str, Crop], *, now: datetime) -> str:
    inputs = [{"lot_code": lot.code, "mass_kg": _half_kg(lot), "packages": []} for lot in pool]
    brought_kg = sum((_half_kg(lot) for lot in pool), Decimal(0))
    loss_kg = round(brought_kg * LOST_SHARE, 3)
    keeper = pool[0].grower_code
    asked = {
        **NOT_TOLD,
        "lots": inputs,
        "grower_code": keeper,
        "done_on": now.date(),
        "mass_kg": brought_kg - loss_kg,
        "loss_kg": loss_kg,
        "form": "pellet",
        "role": None,
        "packing": "barrier_nitrogen",
        "stored_at_c": -2.0,
        "residual_oxygen_percent": None,
        "processor": "Weir Street Pellets",
    }
    pellets = pelletize_lots(session, caller=SPECIALIST, asked=asked, now=now)
    # The mill's own sample; about what the cones held, as such figures are.
    report = dict(crops[pool[0].code].reports[-1]) | {"corrects": None, "reason": None}
    report |= {"sampled_on": now.date(), "analysed_on": now.date(), "laboratory": "Weir Street Pellets"}
    file_report(session, pellets.code, caller=Caller("grower", keeper), asked=report, now=now)
    list_lot(session, pellets.code, caller=Caller("grower", keeper), readiness="analysed", now=now)
    shares = show_origin(session, pellets.code, caller=SPECIALIST, now=now).shares
    told = " and ".join(f"{share.mass_kg.normalize():f} kg of {share.grower_code}" for share in shares)
    return f"{pellets.code} pressed of two growers' {pellets.cultivar}: {told}"


def _split(session: Session, whole: Lot, *, now: datetime) -> str:
    grower = Caller("grower", whole.grower_code)
    asked = {**NOT_TOLD, "mass_kg": _half_kg(whole), "done_on": now.date()}
    part = split_lot(session, whole.code, caller=grower, asked=asked, now=now)
    list_lot(session, part.code, caller=grower, readiness="analysed", now=now)
    return f"{part.code} split off {whole.code}, with its record"
