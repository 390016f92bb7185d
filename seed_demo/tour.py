"""The main job on the loaded region, told so that a person enjoys reading it."""

from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Any, cast

from seed_demo.papers import print_papers
from seed_demo.plans import show_combination, show_plan
from seed_demo.region import show_region
from seed_demo.saying import Tour, kg, span, tell, title
from seed_demo.trust import show_trust
from seed_demo.wants import wants
from service.errors import Refusal
from service.market.matching.matching import Match
from service.market.matching.search import LotLine
from service.market.people.access import Caller
from service.market.people.parties import Party
from service.market.storage.storage import StoragePlan
from service.market.trade.reservations import Reserve
from service.sheets.lot_sheet import render_lot_sheet
from service.usecases.brewing.bitterness import bitterness_of_brew
from service.usecases.matching.matching import match_request
from service.usecases.matching.requests import list_requests, place_request
from service.usecases.matching.search import search_lots
from service.usecases.people.parties import show_party
from service.usecases.sheet.sheets import preview_facts
from service.usecases.storage.storage import storage_of_lot
from service.usecases.trade.reservations import release_reservation, reserve_mass

BREWERY = Caller("brewery", "FINCH")


def run_tour(tour: Tour) -> None:
    """Search, look ahead, brew on paper, match, hold, combine, look at the region, plan, print."""
    found = [line.code for line in show_search(tour)]
    if found:
        show_storage(tour, found[0])
        show_bitterness(tour, found[:2])
    request_code, best = show_matches(tour)
    if best is not None:
        show_hold(tour, best, request_code)
    show_combination(tour, request_code)
    show_region(tour)
    show_plan(tour)
    print_sheets(tour, found[:3])
    if found:
        print_papers(tour, lot_code=found[0], request_code=request_code)
        show_trust(tour, found[0])


def show_search(tour: Tour) -> list[LotLine]:
    """FINCH looks for bittering hops within 150 km, for the day it brews."""
    brewery: Party = tour.records.read(
        lambda s: show_party(s, caller=BREWERY, kind="brewery", code=str(BREWERY.party_code))
    )
    asked: dict[str, Any] = {
        "role": "bittering",
        "readiness": "analysed",
        "alpha_percent_min": 8.0,
        "near_latitude_deg": brewery.latitude_deg,
        "near_longitude_deg": brewery.longitude_deg,
        "within_km": 150.0,
        "on": tour.brewing_day,
        "sort": "-alpha",
    }
    lines, cautions = tour.records.read(
        lambda s: search_lots(s, caller=BREWERY, asked=asked, now=tour.now, after=None, limit=8)
    )
    title(
        tour, f"{brewery.name} looks for bittering hops within 150 km, over 8 % alpha on {tour.brewing_day}"
    )
    tour.say(
        f"{'lot':<18} {'cultivar':<16} {'form':<11} {'alpha % on the day':<20} {'free kg':>8} {'per kg':>11} {'km':>5}"
    )
    for line, _ in lines:
        price = f"{line.price_per_kg:.2f} {line.currency}" if line.price_per_kg is not None else "agreed"
        tour.say(
            f"{line.code:<18} {line.cultivar:<16} {line.form:<11} {span(line.alpha_percent):<20}"
            f" {kg(line.free_kg):>8} {price:>11} {line.distance_km!s:>5}"
        )
    if not lines:
        tour.say("no lot keeps all of that any more")
    for caution in cautions:
        tell(tour, caution, lead="  ! ")
    return [line for line, _ in lines]


def show_storage(tour: Tour, code: str) -> None:
    """What is left of the first lot in half a year, cold and closed or warm and open."""
    day = tour.now.date() + timedelta(days=182)
    title(tour, f"What storage leaves of {code} by {day}")
    plans = {
        "as it is kept now": None,
        "frozen, nitrogen": StoragePlan(from_on=tour.now.date(), kept_at_c=-18.0, packing="barrier_nitrogen"),
        "opened, at 20 °C": StoragePlan(from_on=tour.now.date(), kept_at_c=20.0, packing="open"),
    }
    for name, plan in plans.items():
        outlook = tour.records.read(
            partial(storage_of_lot, code=code, caller=BREWERY, on=day, plan=plan, now=tour.now)
        )
        tour.say(
            f"{name:<18} alpha {span(outlook.alpha_percent)} %, lost {span(outlook.alpha_loss_percent, digits=0)} %,"
            f" HSI {span(outlook.hop_storage_index, digits=2)}"
        )
    loss = cast(Mapping[str, object], outlook.inputs["six_month_loss_percent"])
    tell(tour, f"resting on {loss['basis']}")


def show_bitterness(tour: Tour, codes: list[str]) -> None:
    """A pale ale on paper: two lots in the boil and the whirlpool."""
    asked: dict[str, Any] = {
        "method": "tinseth",
        "brewed_on": tour.brewing_day,
        "alpha_basis": "estimated",
        "wort": {"volume_l": 1000.0, "gravity_sg": 1.050, "volume_of": "finished_beer"},
        "additions": [
            {"lot_code": codes[0], "mass_g": 700.0, "at": "boil", "minutes": 60.0},
            {
                "lot_code": codes[-1],
                "mass_g": 1500.0,
                "at": "whirlpool",
                "minutes": 20.0,
                "temperature_c": 85.0,
            },
        ],
    }
    brew = tour.records.read(lambda s: bitterness_of_brew(s, caller=BREWERY, asked=asked, now=tour.now))
    title(tour, "1000 L of pale ale at 1.050, by Tinseth's published utilization")
    for one in brew.additions:
        told = one.addition
        tour.say(
            f"{told.mass_g:>6.0f} g of {told.alpha.lot_code:<18} {told.at:<10} {told.minutes:>3.0f} min  "
            f"{span(one.ibu)} IBU at {one.utilization_percent:.1f} %"
        )
    tour.say(f"{'in all':<51}{span(brew.ibu)} IBU (estimated)")
    for caution in brew.cautions[:2]:
        tell(tour, caution, lead="  ! ")


def show_matches(tour: Tour) -> tuple[str, Match | None]:
    """What FINCH asked for, and which lots would serve; None when none does."""
    code = _bittering_request(tour)
    page = tour.records.read(
        lambda s: match_request(s, code, caller=BREWERY, now=tour.now, after=None, limit=3)
    )
    title(tour, f"Request {code}: which lots would serve, and why")
    for match in page.matches:
        # Rounding to 100 % would promise what nobody can.
        chance = "over 99%" if match.chance_all_limits_met > 0.99 else f"{match.chance_all_limits_met:.0%}"
        tour.say(f"{match.score:.2f}  {match.lot_code:<18} {match.cultivar:<16} meets all limits: {chance}")
        for reason in match.reasons[:3]:
            tell(tour, reason, lead="      ")
    if not page.matches:
        tour.say("no lot keeps every limit")
    for miss in page.near_misses[:3]:
        failed = "; ".join(f"{f.limit}: wanted {f.wanted}, found {f.found}" for f in miss.fails)
        tell(tour, failed, lead=f"near  {miss.lot_code:<18} {miss.cultivar:<16} ")
    return code, page.matches[0] if page.matches else None


def _bittering_request(tour: Tour) -> str:
    """The code of FINCH's open request for bittering hops; on a later day it may have to ask again."""
    placed = tour.records.read(
        lambda s: list_requests(s, caller=BREWERY, state="open", after=None, limit=100, now=tour.now)
    )
    for request, _ in placed:
        if request.role == "bittering":
            return request.code
    brewery, want = wants(tour.now.date())[0]
    again = tour.records.write(
        lambda s: place_request(s, caller=Caller("brewery", brewery), asked=want, now=tour.now)
    )
    tour.say("")
    tour.say(f"The earlier request has lapsed; {brewery} asks again, as {again.code}.")
    return again.code


def show_hold(tour: Tour, best: Match, request_code: str) -> None:
    """FINCH holds part of a lot, finds that it cannot hold more than is free, and lets go again."""
    title(tour, "A hold that can never promise more than is free")
    command = Reserve(lot_code=best.lot_code, mass_kg=best.parcel_kg, request_code=request_code)
    held = tour.records.write(lambda s: reserve_mass(s, caller=BREWERY, command=command, now=tour.now))
    tour.say(f"{held.code}: {kg(held.mass_kg)} kg of {held.lot_code} held until {held.held_until:%Y-%m-%d}")
    try:
        # As much as stood there before the hold: now it is more than is left.
        more = Reserve(lot_code=best.lot_code, mass_kg=Decimal(kg(best.free_kg)))
        tour.records.write(lambda s: reserve_mass(s, caller=BREWERY, command=more, now=tour.now))
    except Refusal as refusal:
        tell(tour, f"refused: {refusal.detail}", lead="")
    tour.records.write(lambda s: release_reservation(s, held.code, caller=BREWERY, now=tour.now))
    tour.say(f"{held.code} released again; its {kg(held.mass_kg)} kg are free for others")


def print_sheets(tour: Tour, codes: list[str]) -> list[Path]:
    """Spec sheets as files."""
    tour.folder.mkdir(parents=True, exist_ok=True)
    title(tour, f"Spec sheets in {tour.folder}")
    written = []
    for code in codes:
        address = f"{tour.address}/v1/lots/{code}"
        facts = tour.records.read(
            partial(preview_facts, code=code, caller=BREWERY, now=tour.now, address=address)
        )
        path = tour.folder / f"{code}.pdf"
        path.write_bytes(render_lot_sheet(facts))
        tour.say(f"{path.name}  ({path.stat().st_size // 1024} KiB)")
        written.append(path)
    return written
