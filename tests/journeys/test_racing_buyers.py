"""Many buyers at once on both databases: a lot is never sold twice, and nothing is lost."""

import random
import threading
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from decimal import Decimal
from typing import Any

import sqlalchemy as sa

from service.errors import IllegalStep, NotEnoughStock, Overloaded
from service.market.people.access import Caller
from service.market.trade.reservations import ActingFor, Reserve
from service.records.goods import lots
from service.records.session import Session
from service.records.trade import reservations
from service.usecases.processing.runs import blend_lots, pelletize_lots
from service.usecases.trade.reservations import (
    confirm_reservation,
    deliver_reservation,
    release_reservation,
    reserve_mass,
)
from tests.builders import World
from tests.factories import NOW, TODAY
from tests.journeys.test_kilograms import ALDER, require_every_gram, run

ASKED = {"request_code": None, "held_until": None, "brewery_code": None, "grower_code": None}

DEADLOCK = "40P01"


def at_once(count: int, work: Callable[[int], str]) -> Counter[str]:
    """Let so many threads do a piece of work, and count how each ended."""
    with ThreadPoolExecutor(max_workers=count) as threads:
        return Counter(threads.map(work, range(count)))


def free_kg(world: World, lot_code: str, *, days: int = 0) -> Decimal:
    now = NOW + timedelta(days=days)
    return world.records.read(lambda session: lots.get(session, lot_code, now=now)).free_kg


def test_ten_buyers_race_for_one_lot_over_http(committed_world: World) -> None:
    world = committed_world
    world.grower()
    buyers = [world.brewery(f"BREW{n}") for n in range(10)]
    lot = world.listed(mass_kg=100)
    client = world.client.application

    def buy(place: int) -> str:
        answer = client.test_client().post(
            "/v1/reservations",
            json={"lot_code": lot, "mass_kg": 30},
            headers=world.bearing(buyers[place]),
        )
        return str(answer.status_code)

    assert at_once(10, buy) == {"201": 3, "409": 7}
    assert float(world.get(f"/v1/lots/{lot}").json["free_kg"]) == 10.0


def test_forty_buyers_never_oversell(committed_world: World) -> None:
    world = committed_world
    world.grower()
    world.brewery()
    lot = world.listed(mass_kg=100)
    buyer = Caller("brewery", "FINCH")

    def buy(place: int) -> str:
        asked = {**ASKED, "lot_code": lot, "mass_kg": Decimal(7)}
        try:
            world.records.write(
                lambda session: reserve_mass(session, caller=buyer, command=Reserve(**asked), now=NOW)
            )
        except NotEnoughStock:
            return "refused"
        return "held"

    assert at_once(40, buy) == {"held": 14, "refused": 26}
    assert free_kg(world, lot) == Decimal(2)
    codes = [c.code for c in world.records.read(lambda s: reservations.search_of_lot(s, lot))]
    assert len(set(codes)) == 14
    # Nobody comes by to clear them up: a week later the mass is free again.
    assert free_kg(world, lot, days=7) == Decimal(100)


def test_two_hundred_buyers_of_many_breweries_never_oversell(committed_world: World) -> None:
    world = committed_world
    world.grower()
    buyers = [Caller("brewery", world.brewery(f"BREW{n}")) for n in range(20)]
    lot = world.listed(mass_kg=100)
    wishes_kg = [Decimal(random.Random(place).randint(500, 9000)) / 1000 for place in range(240)]
    all_there = threading.Barrier(len(wishes_kg))
    sent_away_kg: list[Decimal] = []

    def buy(place: int) -> str:
        asked = {**ASKED, "lot_code": lot, "mass_kg": wishes_kg[place]}
        buyer = buyers[place % len(buyers)]
        all_there.wait(timeout=60)
        try:
            world.records.write(
                lambda session: reserve_mass(session, caller=buyer, command=Reserve(**asked), now=NOW)
            )
        except NotEnoughStock:
            sent_away_kg.append(wishes_kg[place])
            return "refused"
        return "held"

    ended = at_once(len(wishes_kg), buy)

    promises = world.records.read(lambda s: reservations.search_of_lot(s, lot))
    left_kg = free_kg(world, lot)
    assert set(ended) == {"held", "refused"}
    assert ended["held"] == len(promises) == len({promise.code for promise in promises})
    assert 0 <= left_kg == Decimal(100) - sum(promise.mass_kg for promise in promises)
    # Nobody was sent away while there was room: what is free only shrinks.
    assert min(sent_away_kg) > left_kg


def test_two_hundred_over_several_lots_at_once_never_oversell_nor_wait_for_each_other(
    committed_world: World,
) -> None:
    world = committed_world
    world.grower()
    buyers = [Caller("brewery", world.brewery(f"BREW{n}")) for n in range(10)]
    roots = [world.listed(mass_kg=100) for _ in range(4)]
    all_there = threading.Barrier(200)
    told: list[object] = []

    def hear(context: Any) -> None:
        told.append(getattr(context.original_exception, "sqlstate", None))

    sa.event.listen(world.records.engine, "handle_error", hear)

    def step(place: int) -> str:
        chance = random.Random(place)
        lot_codes = chance.sample(roots, 3)
        mass_kg = Decimal(chance.randint(500, 6000)) / 1000
        asked = {**ASKED, "lot_code": lot_codes[0], "mass_kg": mass_kg}
        # Pellets and blends take of three lots in any order; the house locks them in the order of their codes.
        takes_all = run(dict.fromkeys(lot_codes, mass_kg))
        works: list[Callable[[Any], Any]] = [
            lambda s: reserve_mass(s, caller=buyers[place % 10], command=Reserve(**asked), now=NOW),
            lambda s: blend_lots(s, caller=ALDER, asked=takes_all, now=NOW),
            lambda s: pelletize_lots(s, caller=ALDER, asked=takes_all, now=NOW),
        ]
        all_there.wait(timeout=60)
        try:
            world.records.write(works[place % 4 % 3])
        except NotEnoughStock as refusal:
            return refusal.code
        return "done"

    ended = at_once(200, step)

    assert set(ended) == {"done", "not-enough-stock"}
    assert DEADLOCK not in told

    def check(session: Session) -> None:
        found = lots.search_own(session, grower_code="ALDER", state=None, after=None, limit=300, now=NOW)
        require_every_gram(session, [lot.code for lot in found], Decimal(400))
        assert all(lots.get(session, code, now=NOW).free_kg >= 0 for code in roots)

    world.records.read(check)


def test_offers_beyond_the_lot_are_confirmed_only_as_far_as_it_reaches(committed_world: World) -> None:
    world = committed_world
    world.grower()
    world.brewery()
    lot = world.listed(mass_kg=100)
    wanted = {"role": "aroma", "deliveries": [{"needed_on": "2027-02-01", "mass_kg": 1000}]}
    request = world.post("/v1/requests", wanted, who="FINCH").json["code"]
    told = {"lot_code": lot, "request_code": request, "mass_kg": 30}
    offers = [world.post("/v1/reservations", told, who="ALDER").json["code"] for _ in range(12)]
    buyer = Caller("brewery", "FINCH")

    def confirm(place: int) -> str:
        try:
            world.records.write(
                lambda session: confirm_reservation(
                    session, offers[place], caller=buyer, acting_for=ActingFor(), now=NOW
                )
            )
        except NotEnoughStock:
            return "refused"
        return "confirmed"

    assert at_once(12, confirm) == {"confirmed": 3, "refused": 9}
    assert free_kg(world, lot) == Decimal(10)


def test_both_sides_confirm_and_release_at_once_and_the_books_still_add_up(committed_world: World) -> None:
    world = committed_world
    world.grower()
    world.brewery()
    lot = world.listed(mass_kg=100)
    told = {"lot_code": lot, "mass_kg": 5}
    codes = [world.post("/v1/reservations", told, who="FINCH").json["code"] for _ in range(8)]
    sides = {"grower": Caller("grower", "ALDER"), "brewery": Caller("brewery", "FINCH")}

    def step(place: int) -> str:
        chance = random.Random(place)
        code, side = codes[place % 8], sides[("grower", "brewery")[place % 2]]
        work: Callable[[Any], Any] = chance.choice(
            [
                lambda s: confirm_reservation(s, code, caller=side, acting_for=ActingFor(), now=NOW),
                lambda s: confirm_reservation(s, code, caller=side, acting_for=ActingFor(), now=NOW),
                lambda s: release_reservation(s, code, caller=side, now=NOW),
                lambda s: deliver_reservation(
                    s, code, caller=sides["grower"], delivered_on=TODAY, mass_kg=Decimal(4), now=NOW
                ),
            ]
        )
        try:
            world.records.write(work)
        except (IllegalStep, Overloaded) as refusal:
            return refusal.code
        return "done"

    ended = at_once(48, step)

    promises = world.records.read(lambda s: reservations.search_of_lot(s, lot))
    taken = sum((p.taken_kg for p in promises), Decimal(0))
    held = sum((p.mass_kg for p in promises if p.state == "held"), Decimal(0))
    assert ended["done"] > 0
    assert free_kg(world, lot) == Decimal(100) - taken - held
