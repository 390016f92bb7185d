"""Runs over several lots: pelletizing, also elsewhere and pooled, and blending. What comes out is a new lot."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest, NotAllowed
from service.market.goods.bookings import moved_kg, require_day_of_lot
from service.market.goods.lots import Lot, Step
from service.market.people.access import Caller, acting_party, require_known
from service.market.processing.packing_out import gone_packages, require_promises_packed, take_packages
from service.market.processing.runs import NO_CULTIVAR_KEY, make_product, require_cones, require_one_form
from service.market.processing.steps import Input, decide_moves
from service.market.trade.reservations import promised_kg
from service.records.goods import bookings, lots
from service.records.people import parties
from service.records.processing import steps
from service.records.session import Session
from service.records.trade import reservations
from service.usecases.goods.lot_access import lots_to_see


def pelletize_lots(session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime) -> Lot:
    """Press lots into pellets, at home or elsewhere, one grower's or pooled.

    Raises:
        NotFound, TokenNeeded, NotAllowed: a lot is not the caller's.
        UnfitGoods: a lot is not of dried cones.
        UnbalancedStep, InvalidRequest, IllegalStep, OutOfRange, NotEnoughStock: as `decide_moves`.

    """
    return _run(session, caller, asked, now, kind="pelletizing")


def blend_lots(session: Session, *, caller: Caller, asked: Mapping[str, Any], now: datetime) -> Lot:
    """Blend lots of one form into one.

    Raises:
        As `pelletize_lots`.

    """
    return _run(session, caller, asked, now, kind="blending")


def _run(session: Session, caller: Caller, asked: Mapping[str, Any], now: datetime, *, kind: str) -> Lot:
    require_known(caller)
    told = {part["lot_code"]: part for part in reversed(asked["lots"])}
    lots_to_see(session, told, caller=caller, now=now)
    found = lots.lock(session, told, now=now)
    chosen = [found[part["lot_code"]] for part in asked["lots"]]
    keeper = _keeper(session, caller, chosen, asked["grower_code"])
    if kind == "pelletizing":
        require_cones(chosen, form=asked["form"])
        form = asked["form"]
    else:
        form = require_one_form(chosen)
    years = [lot.crop_year for lot in chosen if lot.crop_year]
    code = lots.next_code(session, keeper, year=max(years, default=now.year))
    left = {
        part["lot_code"]: take_packages(
            found[part["lot_code"]],
            part["mass_kg"],
            part["packages"] or None,
            may_open=True,
            moved_kg=moved_kg(bookings.search(session, part["lot_code"])),
        )[0]
        for part in asked["lots"]
    }
    for lot in chosen:
        promised = promised_kg(reservations.search_of_lot(session, lot.code), now)
        require_promises_packed(lot, left[lot.code], promised_kg=promised)
    inputs = [
        Input(lot=lot, mass_kg=part["mass_kg"], packages=gone_packages(lot.packages, left[lot.code]))
        for part, lot in zip(asked["lots"], chosen, strict=True)
    ]
    moves = decide_moves(
        inputs,
        into_code=code,
        kind=kind,
        out_kg=asked["mass_kg"],
        loss_kg=asked["loss_kg"],
        done_on=asked["done_on"],
        made_on={lot: made.done_on for lot, made in steps.find_many(session, found).items()},
        now=now,
        made_by=caller.name,
    )
    product = make_product(
        chosen,
        code=code,
        grower_code=keeper,
        form=form,
        now=now,
        made_by=caller.name,
        **{
            name: asked[name]
            for name in (
                "role",
                "mass_kg",
                "done_on",
                "packing",
                "stored_at_c",
                "residual_oxygen_percent",
                "packages",
                "own_lot_number",
                "note",
            )
        },
    )
    one_key = NO_CULTIVAR_KEY if product.is_blend else lots.cultivar_key(session, chosen[0].code)
    lots.add(session, product, cultivar_key=one_key)
    for lot_code, packages in left.items():
        lots.change_packages(session, lot_code, packages)
    bookings.add_all(session, moves)
    began_on = asked.get("began_on") or asked["done_on"]
    for lot in chosen:
        require_day_of_lot(lot, began_on, name="began_on", today=now.date())
    if began_on > asked["done_on"]:
        text = f"the run cannot end ({asked['done_on']}) before it began ({began_on})"
        raise InvalidRequest(text, errors=[{"pointer": "#/done_on", "detail": text}])
    steps.put(
        session,
        Step(
            lot_code=code,
            kind=kind,
            began_on=began_on,
            done_on=asked["done_on"],
            processor=asked.get("processor"),
            note=asked["note"],
            made_at=now,
            made_by=caller.name,
        ),
    )
    return lots.get(session, code, now=now)


def _keeper(session: Session, caller: Caller, chosen: Sequence[Lot], named: str | None) -> str:
    """Whose the new lot is: the one grower of all lots, or of a pooled run the one that the specialist names."""
    growers = {lot.grower_code for lot in chosen}
    for lot in chosen:
        if not caller.acts_for("grower", lot.grower_code):
            raise NotAllowed(
                f"lot {lot.code} belongs to {lot.grower_code}; the specialist pools several growers"
            )
    only = growers.pop() if len(growers) == 1 else None
    keeper = acting_party(caller, kind="grower", named=named or (only if caller.is_specialist else None))
    parties.get(session, "grower", keeper)
    return keeper
