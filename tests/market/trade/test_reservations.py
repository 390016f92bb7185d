"""Promises: what may be promised, and where each step leads."""

import contextlib
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from service.errors import IllegalStep, NotAllowed, NotEnoughStock, NotSoldInThatMass, OutOfRange
from service.facts import replace
from service.market.goods.lots import Lot, Package
from service.market.trade.deliveries import decide_delivery, require_grower_side
from service.market.trade.reservations import (
    Reservation,
    decide_confirmation,
    decide_hold,
    decide_offer,
    decide_release,
    side_of,
)
from tests.factories import NOW, TODAY, ListedLotFactory

LOT = ListedLotFactory(code="ALDER-2026-01", mass_kg=Decimal(100))


def a_hold(lot: Lot = LOT, **told: object) -> Reservation:
    plain = {
        "brewery_code": "FINCH",
        "request_code": None,
        "mass_kg": Decimal(40),
        "held_until": None,
        "now": NOW,
        "made_by": "brewery:FINCH",
    }
    return decide_hold(lot, **{**plain, **told})


def an_offer(lot: Lot = LOT, **told: object) -> Reservation:
    plain = {
        "brewery_code": "FINCH",
        "request_code": "FINCH-REQ-01",
        "mass_kg": Decimal(40),
        "held_until": None,
        "now": NOW,
        "made_by": "grower:ALDER",
    }
    return decide_offer(lot, **{**plain, **told})


def confirmed(**told: object) -> Reservation:
    both = decide_confirmation(a_hold(**told), LOT, side="grower", by="", now=NOW)
    return decide_confirmation(both, LOT, side="brewery", by="", now=NOW)


@given(
    st.decimals("0.001", 10_000, places=3), st.decimals(0, 10_000, places=3), st.decimals(0, 5_000, places=3)
)
def test_decide_hold_never_promises_more_than_is_free(
    wanted_kg: Decimal, taken_kg: Decimal, held_kg: Decimal
) -> None:
    lot = ListedLotFactory(mass_kg=Decimal(10_000), taken_kg=taken_kg, held_kg=held_kg)

    if wanted_kg > lot.free_kg:
        with pytest.raises(NotEnoughStock) as refused:
            a_hold(lot, mass_kg=wanted_kg)
        assert refused.value.facts["free_kg"] == lot.free_kg
    else:
        assert a_hold(lot, mass_kg=wanted_kg).mass_kg == wanted_kg


def test_a_hold_stands_seven_days_unless_said() -> None:
    assert a_hold().held_until == NOW + timedelta(days=7)
    assert a_hold(held_until=NOW + timedelta(days=60)).held_until == NOW + timedelta(days=60)


@pytest.mark.parametrize("after", [timedelta(0), timedelta(days=-1), timedelta(days=60, seconds=1)], ids=str)
def test_a_hold_ends_ahead_and_within_60_days(after: timedelta) -> None:
    with pytest.raises(OutOfRange) as refused:
        a_hold(held_until=NOW + after)

    assert refused.value.facts["name"] == "held_until"
    assert refused.value.facts["low"] == "2026-11-25T09:30:00Z"
    assert refused.value.facts["high"] == "2027-01-24T09:30:00Z"


@pytest.mark.parametrize("state", ["draft", "withdrawn"])
def test_only_a_listed_lot_is_reserved(state: str) -> None:
    with pytest.raises(IllegalStep) as refused:
        a_hold(replace(LOT, state=state))

    assert refused.value.facts == {"state": state}


def test_nothing_is_no_reservation() -> None:
    with pytest.raises(OutOfRange, match="over 0"):
        a_hold(mass_kg=Decimal(0))


def test_an_announced_lot_is_reserved_against_what_is_expected() -> None:
    lot = ListedLotFactory(mass_kg=None, expected_kg=Decimal(50), readiness="announced", reports=())

    assert a_hold(lot, mass_kg=Decimal(50)).mass_kg == Decimal(50)
    with pytest.raises(NotEnoughStock):
        a_hold(lot, mass_kg=Decimal("50.001"))


def test_a_hold_expires_by_the_clock() -> None:
    hold = a_hold()

    assert hold.shown_state(NOW + timedelta(days=7, seconds=-1)) == "held"
    assert hold.shown_state(NOW + timedelta(days=7)) == "expired"


def test_an_offer_is_the_growers_word_and_has_no_end_unless_said() -> None:
    offer = an_offer()

    assert (offer.state, offer.confirmed_by, offer.held_until) == ("offered", ("grower",), None)
    assert offer.shown_state(NOW + timedelta(days=999)) == "offered"
    ending = an_offer(held_until=NOW + timedelta(days=2))
    assert ending.shown_state(NOW + timedelta(days=2)) == "expired"


@pytest.mark.parametrize("state", ["draft", "withdrawn"])
def test_an_offer_lasts_no_longer_than_the_listing_and_a_hold_does(state: str) -> None:
    gone = replace(LOT, state=state)

    with pytest.raises(IllegalStep) as refused:
        decide_confirmation(an_offer(), gone, side="brewery", by="x", now=NOW)

    assert refused.value.facts == {"state": state}
    held = decide_confirmation(a_hold(), gone, side="brewery", by="x", now=NOW)
    assert decide_confirmation(held, gone, side="grower", by="x", now=NOW).state == "confirmed"


@pytest.mark.parametrize("order", [("grower", "brewery"), ("brewery", "grower")], ids="-".join)
def test_a_hold_is_confirmed_by_both_in_any_order(order: tuple[str, str]) -> None:
    first = decide_confirmation(a_hold(), LOT, side=order[0], by="x", now=NOW)
    both = decide_confirmation(first, LOT, side=order[1], by="y", now=NOW)

    assert (first.state, first.confirmed_by) == ("held", (order[0],))
    assert (both.state, both.held_until, both.taken_kg) == ("confirmed", None, Decimal(40))
    assert (both.changed_by, both.changed_at) == ("y", NOW)


def test_saying_it_twice_changes_nothing() -> None:
    once = decide_confirmation(a_hold(), LOT, side="grower", by="x", now=NOW)

    assert decide_confirmation(once, LOT, side="grower", by="z", now=NOW + timedelta(1)) is once
    assert decide_confirmation(confirmed(), LOT, side="brewery", by="z", now=NOW) == confirmed()


def test_an_offer_that_others_overtook_is_refused() -> None:
    offer = an_offer()
    crowded = replace(LOT, held_kg=Decimal("60.001"))

    with pytest.raises(NotEnoughStock):
        decide_confirmation(offer, crowded, side="brewery", by="x", now=NOW)
    fits = decide_confirmation(offer, replace(LOT, held_kg=Decimal(60)), side="brewery", by="x", now=NOW)
    assert fits.state == "confirmed"


def test_an_offer_of_a_box_that_is_gone_is_refused() -> None:
    packages = (
        Package(kind="bale", count=1, net_kg=Decimal(60)),
        Package(kind="bale", count=1, net_kg=Decimal(40)),
    )
    lot = replace(LOT, sold_in="whole_packages", packages=packages)
    offer, rival = an_offer(lot), a_hold(lot)

    with pytest.raises(NotSoldInThatMass):
        decide_confirmation(offer, lot, side="brewery", by="x", now=NOW, promised=[rival])
    gone = NOW + timedelta(days=8)
    assert (
        decide_confirmation(offer, lot, side="brewery", by="x", now=gone, promised=[rival]).state
        == "confirmed"
    )


def test_a_box_that_was_light_and_came_back_whole_is_a_box_again() -> None:
    boxes = ListedLotFactory(
        mass_kg=Decimal(40),
        packages=(Package(kind="box", count=4, net_kg=Decimal(10)),),
        sold_in="whole_packages",
    )
    light = replace(
        confirmed(), state="delivered", mass_kg=Decimal(10), delivered_on=TODAY, delivered_kg=Decimal("9.5")
    )
    part, whole = (replace(light, returned_kg=Decimal(kg)) for kg in ("4.5", "9.5"))

    assert a_hold(boxes, mass_kg=Decimal(10), promised=[whole]).mass_kg == Decimal(10)
    with pytest.raises(NotSoldInThatMass):
        a_hold(boxes, mass_kg=Decimal(10), promised=[part])


def test_what_is_over_cannot_be_confirmed() -> None:
    for promise, state, when in (
        (a_hold(), "expired", NOW + timedelta(days=7)),
        (replace(a_hold(), state="released"), "released", NOW),
        (replace(confirmed(), state="delivered"), "delivered", NOW),
    ):
        with pytest.raises(IllegalStep) as refused:
            decide_confirmation(promise, LOT, side="brewery", by="x", now=when)
        assert refused.value.facts == {"state": state}


def deliver(promise: Reservation, lot: Lot = LOT, **told: object) -> Reservation:
    plain = {"delivered_on": TODAY, "mass_kg": Decimal("39.5"), "by": "grower:ALDER", "now": NOW}
    return decide_delivery(promise, lot, **{**plain, **told})


def test_a_delivery_counts_what_was_delivered() -> None:
    promise = replace(confirmed(), alpha_kg=2.0)
    delivered = deliver(promise)

    assert (delivered.state, delivered.taken_kg, delivered.delivered_on) == (
        "delivered",
        Decimal("39.5"),
        TODAY,
    )
    assert delivered.taken_alpha_kg == pytest.approx(2.0 * 39.5 / 40)


@pytest.mark.parametrize("mass_kg", ["0", "-1", "40.001"])
def test_no_more_is_delivered_than_was_confirmed(mass_kg: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        deliver(confirmed(), mass_kg=Decimal(mass_kg))

    assert (refused.value.facts["name"], refused.value.facts["high"]) == ("mass_kg", Decimal(40))


@pytest.mark.parametrize("day", [date(2026, 11, 27), date(2026, 8, 28)], ids=str)
def test_a_delivery_is_neither_to_come_nor_before_the_picking(day: date) -> None:
    with pytest.raises(OutOfRange) as refused:
        deliver(confirmed(), delivered_on=day)

    assert refused.value.facts["name"] == "delivered_on"


def test_only_what_both_confirmed_of_a_weighed_lot_is_delivered() -> None:
    with pytest.raises(IllegalStep, match="only what both sides confirmed"):
        deliver(a_hold())
    with pytest.raises(IllegalStep, match="no harvest date and mass"):
        deliver(confirmed(), replace(LOT, mass_kg=None, expected_kg=Decimal(100)))


def test_the_brewery_releases_until_delivery_the_grower_until_both_confirmed() -> None:
    for side in ("grower", "brewery", None):
        assert decide_release(a_hold(), side=side, by="x", now=NOW).state == "released"
        assert decide_release(an_offer(), side=side, by="x", now=NOW).state == "released"
    for side in ("brewery", None):
        assert decide_release(confirmed(), side=side, by="x", now=NOW).taken_kg == 0
    with pytest.raises(IllegalStep, match="only the brewery"):
        decide_release(confirmed(), side="grower", by="x", now=NOW)


def test_there_is_nothing_to_release_of_what_is_over() -> None:
    for promise, when in (
        (deliver(confirmed()), NOW),
        (replace(a_hold(), state="released"), NOW),
        (a_hold(), NOW + timedelta(days=8)),
    ):
        with pytest.raises(IllegalStep, match="nothing to release"):
            decide_release(promise, side="brewery", by="x", now=when)


def test_side_of_knows_the_two_parties_and_nobody_else() -> None:
    hold = a_hold()

    assert side_of(hold, role="brewery", party_code="FINCH") == "brewery"
    assert side_of(hold, role="grower", party_code="ALDER") == "grower"
    assert side_of(hold, role="grower", party_code="FINCH") is None
    assert side_of(hold, role="specialist", party_code=None) is None


def test_the_brewery_does_not_record_a_delivery() -> None:
    require_grower_side("grower")
    require_grower_side(None)
    with pytest.raises(NotAllowed):
        require_grower_side("brewery")


class Lives(RuleBasedStateMachine):
    """Any steps in any order: what is committed never exceeds the lot."""

    def __init__(self) -> None:
        super().__init__()
        self.now = NOW
        self.promises: list[Reservation] = []

    @property
    def lot(self) -> Lot:
        held = [p.mass_kg for p in self.promises if p.shown_state(self.now) == "held"]
        taken = [p.taken_kg for p in self.promises]
        return replace(LOT, held_kg=sum(held, Decimal(0)), taken_kg=sum(taken, Decimal(0)))

    def try_step(self, place: int, step: object) -> None:
        with contextlib.suppress(IllegalStep, NotEnoughStock, OutOfRange):
            self.promises[place % len(self.promises)] = step(self.promises[place % len(self.promises)])

    @rule(mass_kg=st.decimals("0.001", 120, places=3), days=st.integers(1, 60), offers=st.booleans())
    def promise(self, mass_kg: Decimal, days: int, offers: bool) -> None:
        try:
            make = an_offer if offers else a_hold
            until = self.now + timedelta(days=days)
            self.promises.append(make(self.lot, mass_kg=mass_kg, held_until=until, now=self.now))
        except NotEnoughStock:
            assert mass_kg > self.lot.free_kg

    @precondition(lambda self: self.promises)
    @rule(place=st.integers(0, 50), side=st.sampled_from(["grower", "brewery"]))
    def confirm(self, place: int, side: str) -> None:
        lot = self.lot
        self.try_step(place, lambda p: decide_confirmation(p, lot, side=side, by="x", now=self.now))

    @precondition(lambda self: self.promises)
    @rule(place=st.integers(0, 50), mass_kg=st.decimals("0.001", 120, places=3))
    def deliver(self, place: int, mass_kg: Decimal) -> None:
        lot, day = self.lot, self.now.date()
        self.try_step(
            place,
            lambda p: decide_delivery(p, lot, delivered_on=day, mass_kg=mass_kg, by="x", now=self.now),
        )

    @precondition(lambda self: self.promises)
    @rule(place=st.integers(0, 50), side=st.sampled_from(["grower", "brewery", None]))
    def release(self, place: int, side: str | None) -> None:
        self.try_step(place, lambda p: decide_release(p, side=side, by="x", now=self.now))

    @rule(days=st.integers(1, 30))
    def time_passes(self, days: int) -> None:
        self.now += timedelta(days=days)

    @invariant()
    def never_more_is_committed_than_there_is(self) -> None:
        assert self.lot.free_kg >= 0


TestLives = Lives.TestCase
