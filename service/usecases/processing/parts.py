"""Splitting a part off a lot, or opening so many of its packages: a lot of its own either way."""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from service.errors import InvalidRequest
from service.market.goods.bookings import moved_kg
from service.market.goods.lots import Lot, Package, Step
from service.market.people.access import Caller
from service.market.processing.packing_out import (
    gone_packages,
    packed_kg,
    require_promises_packed,
    take_packages,
)
from service.market.processing.parts import make_part, open_part
from service.market.processing.steps import Input, decide_moves
from service.market.trade.reservations import promised_kg
from service.records.goods import bookings, lots, quality_reports
from service.records.processing import steps
from service.records.session import Session
from service.records.trade import reservations
from service.usecases.goods.lot_access import lot_to_change


def split_lot(session: Session, code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime) -> Lot:
    """Split free kilograms off a lot; promises stay with the whole.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's.
        InvalidRequest, NotSoldInThatMass: neither a mass nor packages, or packages that do not fit.
        IllegalStep, OutOfRange, NotEnoughStock: as `decide_moves`.

    """
    return _part(session, code, caller, asked, now, kind="splitting", done_on=asked["done_on"])


def open_packages(
    session: Session, code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> Lot:
    """Open so many packages of a lot: they become a lot whose storage starts a new spell that day.

    Raises:
        As `split_lot`.

    """
    return _part(session, code, caller, asked, now, kind="opening", done_on=asked["opened_on"])


def _part(
    session: Session,
    code: str,
    caller: Caller,
    asked: Mapping[str, Any],
    now: datetime,
    *,
    kind: str,
    done_on: date,
) -> Lot:
    whole = lot_to_change(session, code, caller=caller, now=now)
    named: tuple[Package, ...] | None = tuple(asked["packages"]) if asked["packages"] else None
    mass_kg = asked["mass_kg"]
    if mass_kg is None:
        if named is None:
            text = "say how many kilograms, or which packages"
            raise InvalidRequest(text, errors=[{"pointer": "#/mass_kg", "detail": text}])
        mass_kg = packed_kg(named)
    before_kg = moved_kg(bookings.search(session, code))
    left, gone = take_packages(whole, mass_kg, named, may_open=False, moved_kg=before_kg)
    promised = promised_kg(reservations.search_of_lot(session, code), now)
    require_promises_packed(whole, left, promised_kg=promised)
    year = whole.crop_year or now.year
    part_code = lots.next_code(session, whole.grower_code, year=year)
    moves = decide_moves(
        [Input(lot=whole, mass_kg=mass_kg, packages=gone_packages(whole.packages, left))],
        into_code=part_code,
        kind=kind,
        out_kg=mass_kg,
        loss_kg=Decimal(0),
        done_on=done_on,
        made_on={code: made.done_on for code, made in steps.find_many(session, [code]).items()},
        now=now,
        made_by=caller.name,
    )
    part = make_part(
        whole,
        code=part_code,
        mass_kg=mass_kg,
        packages=gone,
        own_lot_number=asked["own_lot_number"],
        note=asked["note"],
        now=now,
        made_by=caller.name,
    )
    if kind == "opening":
        part = open_part(part, opened_on=done_on, packing=asked["packing"], stored_at_c=asked["stored_at_c"])
    lots.add(session, part, cultivar_key=lots.cultivar_key(session, code))
    lots.change_packages(session, code, left)
    quality_reports.carry(session, from_code=code, into_code=part_code)
    bookings.add_all(session, moves)
    steps.put(
        session,
        Step(
            lot_code=part_code,
            kind=kind,
            began_on=done_on,
            done_on=done_on,
            note=asked["note"],
            made_at=now,
            made_by=caller.name,
        ),
    )
    return lots.get(session, part_code, now=now)
