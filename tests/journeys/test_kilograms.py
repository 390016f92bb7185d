"""Any sequence of steps, on both databases: no gram appears or vanishes, in any lot or in the whole tree."""

import random
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from service.errors import Refusal
from service.market.goods.lots import Package
from service.market.people.access import Caller
from service.market.planning.outlook import Stock
from service.market.trade.reservations import ActingFor, Reserve
from service.records.goods import bookings, lots
from service.records.people import parties
from service.records.processing import steps
from service.records.session import Session
from service.records.trade import receipts, reservations, rub_samples
from service.usecases.goods.bookings import book_out, take_booking_back
from service.usecases.goods.listing import list_lot, withdraw_lot
from service.usecases.goods.lots import discard_lot
from service.usecases.matching.requests import place_request
from service.usecases.planning.outlook import show_supply
from service.usecases.processing.parts import open_packages, split_lot
from service.usecases.processing.runs import blend_lots, pelletize_lots
from service.usecases.trade.receipts import book_return, receive_delivery
from service.usecases.trade.reservations import (
    confirm_reservation,
    deliver_reservation,
    release_reservation,
    reserve_mass,
)
from service.usecases.trade.rub_samples import (
    answer_for_sample,
    ask_for_sample,
    dispatch_sample,
    select_lot,
    welcome_sample,
)
from tests.builders import World
from tests.factories import NOW, TODAY, ListedLotFactory, PartyFactory

ALDER, FINCH = Caller("grower", "ALDER"), Caller("brewery", "FINCH")
GRAM = Decimal("0.001")
NOBODY = {"brewery_code": None, "grower_code": None}
# Tens first, since the packages hold ten; some of all this is more than there is.
KILOGRAMS = st.sampled_from([Decimal(10), Decimal(20)]) | st.decimals(GRAM, 45, places=3)
# What comes back of ten kilograms, trip by trip; None is all the rest.
TRIPS = st.sampled_from(
    [(), (None,), (Decimal(4), None), (Decimal("0.5"), Decimal(4), None), (None, Decimal("0.5"))]
)


def part(mass_kg: Any, **told: Any) -> dict[str, Any]:
    plain = {"mass_kg": mass_kg, "packages": [], "own_lot_number": None, "note": None}
    return {**plain, "done_on": TODAY, "opened_on": TODAY, "packing": "open", "stored_at_c": 4.0, **told}


def run(parts: dict[str, Decimal], loss_kg: Decimal = Decimal(0), **told: Any) -> dict[str, Any]:
    inputs = [{"lot_code": code, "mass_kg": mass, "packages": []} for code, mass in parts.items()]
    plain = {"grower_code": None, "role": "aroma", "packing": "barrier_vacuum", "stored_at_c": 2.0}
    plain |= {"residual_oxygen_percent": None, "packages": [], "own_lot_number": None, "note": None}
    out_kg = sum(parts.values(), Decimal(0)) - loss_kg
    return {
        "lots": inputs,
        "done_on": TODAY,
        "mass_kg": out_kg,
        "loss_kg": loss_kg,
        "form": "pellet",
        **plain,
        **told,
    }


def require_every_gram(
    session: Session, codes: list[str], rooted_kg: Decimal, *, now: datetime = NOW
) -> None:
    """Of each lot, and of all together, what there was is what there is and what left."""
    left, lost = Decimal(0), Decimal(0)
    found = lots.get_many(session, codes, now=now)
    assert set(found) == set(codes)
    for code, lot in found.items():
        booked = [b for b in bookings.search(session, code) if b.counts]
        promises = reservations.search_of_lot(session, code)
        taken = sum((p.taken_kg for p in promises), Decimal(0))
        held = sum((p.mass_kg for p in promises if p.shown_state(now) == "held"), Decimal(0))
        gone = sum((b.mass_kg for b in booked), Decimal(0))
        assert lot.mass_kg == lot.free_kg + held + taken + gone
        assert lot.free_kg >= 0
        came = sum((edge.mass_kg for edge in steps.edges_into(session, [code])), Decimal(0))
        assert came in (0, lot.mass_kg)
        moved = sum((b.mass_kg for b in booked if b.kind == "moved"), Decimal(0))
        assert sum((p.count * p.net_kg for p in lot.packages), Decimal(0)) <= lot.mass_kg - moved
        left += lot.free_kg + held + taken
        lost += sum((b.mass_kg for b in booked if b.kind != "moved"), Decimal(0))
    assert left + lost == rooted_kg
    supply = show_supply(session, caller=Caller("specialist"), asked={}, now=now)
    require_sums(supply.totals.weighed)
    for row in supply.rows:
        require_sums(row.weighed)
    assert (supply.totals.weighed.lots, supply.totals.weighed.grown_kg) == (len(codes), rooted_kg)


def require_sums(stock: Stock) -> None:
    """What the region's supply says of lots is where all their kilograms are."""
    places = ("free", "not_offered", "held", "confirmed", "delivered", "moved", "lost")
    assert stock.mass_kg == sum(getattr(stock, f"{place}_kg") for place in places)


def require_samples_are_gone(session: Session) -> None:
    """The grams of every sample that a brewery has, or that is on its way there, left the lot."""
    kinds: dict[str, str | None] = {"grower_code": None, "lot_code": None, "state": None}
    found = rub_samples.search(session, brewery_code="FINCH", after=None, limit=1000, **kinds)
    for sample in (sample for sample, _ in found if sample.state in ("sent", "received")):
        (grams,) = (
            b for b in bookings.search(session, sample.lot_code) if b.code == sample.booking_code and b.counts
        )
        assert grams.mass_kg == sample.mass_kg


def machine_on(session: Session) -> type[RuleBasedStateMachine]:
    """The steps of a region, over one session whose every run is rolled back."""

    class Region(RuleBasedStateMachine):
        def __init__(self) -> None:
            super().__init__()
            self.savepoint = session.begin_nested()
            self.codes: list[str] = []
            self.made: list[str] = []
            self.booked: list[tuple[str, str]] = []
            self.promises: list[str] = []
            self.now = NOW
            for kind, code in (("grower", "ALDER"), ("brewery", "FINCH")):
                parties.add(session, PartyFactory(kind=kind, code=code))
            boxes = (Package(kind="box", count=4, net_kg=Decimal(10)),)
            for number, told in enumerate(
                ({}, {"packages": boxes}, {"packages": boxes, "sold_in": "whole_packages"})
            ):
                lot = ListedLotFactory(code=f"ALDER-2025-{number}", mass_kg=Decimal("40"), **told)
                lots.add(session, lot, cultivar_key="WILLAMETTE")
                self.codes.append(lot.code)
            self.roots = tuple(self.codes)
            self.rooted_kg = Decimal(120)
            wanted = {
                "role": "aroma",
                "deliveries": [{"needed_on": date(2030, 2, 1), "mass_kg": Decimal(9000)}],
            }
            self.request = place_request(session, caller=FINCH, asked=wanted, now=NOW).code

        def tried(self, work: Any) -> Any:
            """Do a step; a refusal must leave no trace."""
            try:
                with session.begin_nested():
                    return work()
            except Refusal:
                return None

        def chosen(self, data: Any) -> str:
            return str(data.draw(st.sampled_from(self.codes)))

        def keep(self, made: Any) -> None:
            if made is not None:
                self.codes.append(made.code)
                self.made.append(made.code)

        @rule(data=st.data(), mass_kg=KILOGRAMS)
        def book(self, data: Any, mass_kg: Decimal) -> None:
            asked = {
                "kind": "sample",
                "mass_kg": mass_kg,
                "weighed_kg": None,
                "booked_on": TODAY,
                "reason": "x",
            }
            code = self.chosen(data)
            kept = self.tried(lambda: book_out(session, code, caller=ALDER, asked=asked, now=self.now))
            self.booked += [(code, kept.code)] if kept else []

        @precondition(lambda self: self.booked)
        @rule(data=st.data())
        def take_back(self, data: Any) -> None:
            code, booking = data.draw(st.sampled_from(self.booked))
            told = {"booking_code": booking, "caller": ALDER, "reason": "slip", "now": self.now}
            self.tried(lambda: take_booking_back(session, code, **told))

        @rule(data=st.data(), mass_kg=KILOGRAMS, opens=st.booleans())
        def split(self, data: Any, mass_kg: Decimal, opens: bool) -> None:
            step = open_packages if opens else split_lot
            code = self.chosen(data)
            self.keep(
                self.tried(lambda: step(session, code, caller=ALDER, asked=part(mass_kg), now=self.now))
            )

        @rule(data=st.data(), masses=st.lists(KILOGRAMS, min_size=1, max_size=3), presses=st.booleans())
        def merge(self, data: Any, masses: list[Decimal], presses: bool) -> None:
            inputs = {self.chosen(data): mass for mass in masses}
            loss_kg = data.draw(st.decimals(0, sum(inputs.values()) - GRAM, places=3))
            step = pelletize_lots if presses else blend_lots
            asked = run(inputs, loss_kg)
            self.keep(self.tried(lambda: step(session, caller=ALDER, asked=asked, now=self.now)))

        @rule(days=st.integers(1, 8))
        def wait(self, days: int) -> None:
            self.now += timedelta(days=days)

        @rule(data=st.data())
        def withdraw_or_list(self, data: Any) -> None:
            self.turn_the_listing(data.draw(st.sampled_from(self.roots)))

        def turn_the_listing(self, code: str) -> None:
            if lots.get(session, code, now=self.now).state == "listed":
                withdraw_lot(session, code, caller=ALDER, now=self.now)
            else:
                list_lot(session, code, caller=ALDER, readiness="analysed", now=self.now)

        @rule(
            data=st.data(), mass_kg=KILOGRAMS, offers=st.booleans(), days=st.none() | st.sampled_from([1, 20])
        )
        def reserve(self, data: Any, mass_kg: Decimal, offers: bool, days: int | None) -> None:
            code = data.draw(st.sampled_from(self.roots) | st.sampled_from(self.codes))
            self.reserve_one(code, mass_kg, offers=offers, days=days)
            # So that holds are seen to end: after a day, after a week, after twenty.
            self.now += timedelta(days=data.draw(st.sampled_from([0, 0, 1, 7])))

        @rule(data=st.data(), mass_kg=KILOGRAMS, turns=st.booleans())
        def offer_and_confirm(self, data: Any, mass_kg: Decimal, turns: bool) -> None:
            """An offer that both sides want, though the grower may have withdrawn the lot meanwhile."""
            code = data.draw(st.sampled_from(self.roots))
            made = self.reserve_one(code, mass_kg, offers=True)
            if turns:
                self.turn_the_listing(code)
            if made is not None:
                self.confirm(made.code)

        def reserve_one(
            self, lot_code: str, mass_kg: Decimal, *, offers: bool = False, days: int | None = None
        ) -> Any:
            asked = {
                "lot_code": lot_code,
                "mass_kg": mass_kg,
                "request_code": self.request if offers else None,
                "held_until": None if days is None else self.now + timedelta(days=days),
                **NOBODY,
            }
            caller = ALDER if offers else FINCH
            made = self.tried(
                lambda: reserve_mass(session, caller=caller, command=Reserve(**asked), now=self.now)
            )
            self.promises += [made.code] if made else []
            return made

        def confirm(self, code: str) -> None:
            """Let both sides confirm; an offer never becomes more once its lot is not listed."""
            before = reservations.get(session, code)
            lot = lots.get(session, before.lot_code, now=self.now)
            for caller in (ALDER, FINCH):
                self.tried(
                    lambda v=caller: confirm_reservation(
                        session, code, caller=v, acting_for=ActingFor(), now=self.now
                    )
                )
            if before.state == "offered" and lot.state != "listed":
                assert reservations.get(session, code) == before

        def deliver(self, code: str, mass_kg: Decimal) -> Any:
            told = {"caller": ALDER, "delivered_on": TODAY, "mass_kg": mass_kg, "now": self.now}
            return self.tried(lambda: deliver_reservation(session, code, **told))

        @precondition(lambda self: self.promises)
        @rule(data=st.data(), mass_kg=KILOGRAMS, act=st.sampled_from(["confirm", "deliver", "release"]))
        def move_promise(self, data: Any, mass_kg: Decimal, act: str) -> None:
            code = data.draw(st.sampled_from(self.promises))
            if act == "release":
                self.tried(lambda: release_reservation(session, code, caller=FINCH, now=self.now))
                return
            self.confirm(code)
            if act == "deliver":
                self.deliver(code, mass_kg)

        @rule(data=st.data(), light_kg=st.sampled_from([Decimal(0), Decimal("0.5")]), trips=TRIPS)
        def sell_what_is_refused(
            self, data: Any, light_kg: Decimal, trips: tuple[Decimal | None, ...]
        ) -> None:
            """A sale all the way to the brewery that sends it away, which steps drawn one by one seldom reach."""
            made = self.reserve_one(data.draw(st.sampled_from(self.roots)), Decimal(10))
            if made is not None:
                self.confirm(made.code)
                self.deliver(made.code, made.mass_kg - light_kg)
                self.receive_one(made.code, accepted_kg=Decimal(0), refused_kg=made.mass_kg - light_kg)
                for mass_kg in trips:
                    self.bring_some_back(made.code, mass_kg)

        def receive_one(self, code: str, *, accepted_kg: Decimal, refused_kg: Decimal) -> Any:
            asked = {"received_on": TODAY, "packages": [], "condition": "musty", "reason": "mould"}
            asked |= {"accepted_kg": accepted_kg, "refused_kg": refused_kg}
            told = {"caller": FINCH, "asked": asked, "now": self.now}
            return self.tried(lambda: receive_delivery(session, code, **told))

        @precondition(lambda self: self.promises)
        @rule(data=st.data(), accepted=st.integers(0, 9), refused=st.integers(0, 9))
        def receive(self, data: Any, accepted: int, refused: int) -> None:
            code = data.draw(st.sampled_from(self.promises))
            self.receive_one(code, accepted_kg=Decimal(accepted), refused_kg=Decimal(refused))

        @precondition(lambda self: self.promises)
        @rule(data=st.data(), trips=TRIPS)
        def bring_back(self, data: Any, trips: tuple[Decimal | None, ...]) -> None:
            """All that was refused may come back, trip by trip, and nothing else may."""
            code = data.draw(st.sampled_from(self.promises))
            for mass_kg in trips:
                self.bring_some_back(code, mass_kg)

        def bring_some_back(self, code: str, mass_kg: Decimal | None) -> None:
            """A trip; None brings all that is still with the brewery."""
            before, receipt = reservations.get(session, code), receipts.find(session, code)
            refused_kg = Decimal(0) if receipt is None else receipt.refused_kg
            left_kg = min(before.taken_kg, refused_kg - before.returned_kg)
            back_kg = before.mass_kg if mass_kg is None else mass_kg
            if mass_kg is None and left_kg > 0:
                back_kg = left_kg
            told = {"caller": ALDER, "mass_kg": back_kg, "returned_on": TODAY, "now": self.now}
            after = self.tried(lambda: book_return(session, code, **told))
            assert (after is not None) == (before.state == "delivered" and 0 < back_kg <= left_kg)
            if after is not None:
                assert after.taken_kg == before.taken_kg - back_kg

        @rule(data=st.data(), mass_g=st.sampled_from([250, 2000]), steps=st.integers(2, 4), takes=KILOGRAMS)
        def rub(self, data: Any, mass_g: int, steps: int, takes: Decimal) -> None:
            """A sample, as far along its way as is drawn; selecting it takes nothing."""
            code = data.draw(st.sampled_from(self.roots) | st.sampled_from(self.codes))
            by = {"now": self.now}
            plain = {"lot_code": code, "mass_g": mass_g, "words": None, "brewery_code": None}
            asked = self.tried(lambda: ask_for_sample(session, caller=FINCH, **plain, **by))
            if asked is None:
                return
            sample = asked.code
            answer_for_sample(session, sample, caller=ALDER, approves=True, answer=None, **by)
            sent = self.tried(lambda: dispatch_sample(session, sample, caller=ALDER, sent_on=TODAY, **by))
            if sent is None:
                return
            self.booked.append((code, sent.booking_code))
            told = {"booking_code": sent.booking_code, "caller": ALDER, "reason": "slip", "now": self.now}
            assert self.tried(lambda: take_booking_back(session, code, **told)) is None
            if steps > 2:
                welcome_sample(session, sample, caller=FINCH, received_on=TODAY, **by)
            if steps > 3:
                free_kg = lots.get(session, code, now=self.now).free_kg
                wish = {"mass_kg": takes, "request_code": None, "held_until": None, **by}
                selected = self.tried(lambda: select_lot(session, sample, caller=FINCH, **wish))
                self.promises += [selected[1].code] if selected else []
                assert lots.get(session, code, now=self.now).free_kg == free_kg

        @precondition(lambda self: self.made)
        @rule(data=st.data())
        def discard(self, data: Any) -> None:
            code = data.draw(st.sampled_from(self.made))
            told = {"caller": ALDER, "now": self.now, "unless_changed": lambda _view: None}
            if self.tried(lambda: discard_lot(session, code, **told) or "gone"):
                self.codes.remove(code)
                self.made.remove(code)

        @invariant()
        def no_gram_appears_or_vanishes(self) -> None:
            require_every_gram(session, self.codes, self.rooted_kg, now=self.now)
            require_samples_are_gone(session)

        def teardown(self) -> None:
            self.savepoint.rollback()
            session.expire_all()

    return Region


def test_no_gram_appears_or_vanishes_over_any_sequence_of_steps(session: Session) -> None:
    run_state_machine_as_test(
        machine_on(session),
        settings=settings(
            max_examples=settings().max_examples // 10,
            stateful_step_count=20,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            # A failure is told as it was found: to shrink it on a database takes minutes.
            phases=[Phase.generate],
        ),
    )


@pytest.mark.parametrize("seed", [1, 2])
def test_steps_that_race_with_buyers_never_oversell(committed_world: World, seed: int) -> None:
    world = committed_world
    world.grower()
    world.brewery()
    roots = [world.listed(mass_kg=60) for _ in range(3)]

    def step(place: int) -> str:
        chance = random.Random(seed * 1000 + place)
        first, second = chance.sample(roots, 2)
        kilograms = Decimal(chance.randint(1, 20))
        asked = {"lot_code": first, "mass_kg": kilograms, "request_code": None, "held_until": None, **NOBODY}
        sample = {
            "kind": "sample",
            "mass_kg": kilograms,
            "weighed_kg": None,
            "booked_on": TODAY,
            "reason": "x",
        }
        both = run({first: kilograms, second: kilograms})
        work = chance.choice(
            [
                lambda s: reserve_mass(s, caller=FINCH, command=Reserve(**asked), now=NOW),
                lambda s: book_out(s, first, caller=ALDER, asked=sample, now=NOW),
                lambda s: split_lot(s, first, caller=ALDER, asked=part(kilograms), now=NOW),
                lambda s: blend_lots(s, caller=ALDER, asked=both, now=NOW),
                lambda s: pelletize_lots(s, caller=ALDER, asked=both, now=NOW),
            ]
        )
        try:
            world.records.write(work)
        except Refusal as refusal:
            return refusal.code
        return "done"

    with ThreadPoolExecutor(max_workers=8) as threads:
        ended = Counter(threads.map(step, range(40)))

    assert set(ended) <= {"done", "not-enough-stock"}, ended
    assert ended["not-enough-stock"] > 0

    def check(session: Session) -> None:
        found = lots.search_own(session, grower_code="ALDER", state=None, after=None, limit=100, now=NOW)
        require_every_gram(session, [lot.code for lot in found], Decimal(180))
        assert min(lot.free_kg for lot in lots.get_many(session, roots, now=NOW + timedelta(0)).values()) >= 0

    world.records.read(check)
