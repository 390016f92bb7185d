"""Reservations on real records: what changed, and what did not when refused."""

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.errors import (
    IllegalStep,
    InvalidRequest,
    NotAllowed,
    NotEnoughStock,
    NotFound,
    NotSoldInThatMass,
    TokenNeeded,
)
from service.market.goods.lots import Package
from service.market.matching.search_figures import alpha_on, figures_to_keep
from service.market.people.access import ANYONE, Caller
from service.market.trade.reservations import ActingFor, Reservation, Reserve
from service.records.goods import lots
from service.records.people import parties
from service.records.trade import reservations
from service.usecases.matching.requests import place_request
from service.usecases.trade.reservations import (
    confirm_reservation,
    deliver_reservation,
    list_reservations,
    release_reservation,
    reserve_mass,
    show_reservation,
)
from tests.factories import NOW, TODAY, LabReportFactory, ListedLotFactory, PartyFactory

FINCH, TEAL = Caller("brewery", "FINCH"), Caller("brewery", "TEAL")
ALDER, SPECIALIST = Caller("grower", "ALDER"), Caller("specialist")
LOT = "ALDER-2026-01"
NOBODY: Mapping[str, Any] = {"brewery_code": None, "grower_code": None}
WEEK = timedelta(days=7)


@pytest.fixture(autouse=True)
def valley(session: Session) -> None:
    for kind, code in (("grower", "ALDER"), ("brewery", "FINCH"), ("brewery", "TEAL")):
        parties.add(session, PartyFactory(kind=kind, code=code))
    lot = ListedLotFactory(code=LOT, mass_kg=Decimal(100), reports=(LabReportFactory(code="R1"),))
    lots.add(session, lot, cultivar_key="WILLAMETTE")


def reserve(session: Session, caller: Caller = FINCH, *, now: Any = NOW, **told: Any) -> Reservation:
    plain = {"lot_code": LOT, "mass_kg": Decimal(40), "request_code": None, "held_until": None, **NOBODY}
    return reserve_mass(session, caller=caller, command=Reserve(**{**plain, **told}), now=now)


def confirm(session: Session, code: str, caller: Caller, *, now: Any = NOW, **told: Any) -> Reservation:
    return confirm_reservation(session, code, caller=caller, acting_for=ActingFor(**told), now=now)


def wanted(session: Session, caller: Caller = FINCH, **told: Any) -> str:
    asked = {"role": "aroma", "deliveries": [{"needed_on": date(2027, 2, 1), "mass_kg": Decimal(60)}], **told}
    return place_request(session, caller=caller, asked=asked, now=NOW).code


def free_kg(session: Session, *, now: Any = NOW) -> Decimal:
    return lots.get(session, LOT, now=now).free_kg


def test_a_hold_takes_from_what_is_free_until_it_expires(session: Session) -> None:
    held = reserve(session)

    assert reservations.get(session, held.code) == held
    assert (free_kg(session), free_kg(session, now=NOW + WEEK)) == (Decimal(60), Decimal(100))
    with pytest.raises(IllegalStep) as refused:
        confirm(session, held.code, FINCH, now=NOW + WEEK)
    assert refused.value.facts == {"state": "expired"}
    assert reserve(session, TEAL, mass_kg=Decimal(100), now=NOW + WEEK).state == "held"


def test_what_is_refused_leaves_no_trace(session: Session) -> None:
    foreign = wanted(session, TEAL)
    for caller, told, refusal in (
        (ANYONE, {}, TokenNeeded),
        (FINCH, {"mass_kg": Decimal("100.001")}, NotEnoughStock),
        (FINCH, {"lot_code": "NONE"}, NotFound),
        (FINCH, {"request_code": foreign}, NotFound),
        (FINCH, {"brewery_code": "TEAL"}, NotAllowed),
        (FINCH, {"grower_code": "ALDER"}, InvalidRequest),
        (ALDER, {}, InvalidRequest),
        (ALDER, {"request_code": foreign, "brewery_code": "TEAL"}, InvalidRequest),
        (Caller("grower", "ROWAN"), {"request_code": foreign}, NotAllowed),
        (SPECIALIST, {"brewery_code": "NOBODY"}, NotFound),
    ):
        with pytest.raises(refusal):
            reserve(session, caller, **told)

    assert reservations.search(session, now=NOW, limit=9) == []
    assert free_kg(session) == Decimal(100)


def test_a_promise_keeps_the_alpha_it_brings_on_the_day_needed(session: Session) -> None:
    for_request, plain = reserve(session, request_code=wanted(session)), reserve(session)

    kept = figures_to_keep(lots.get(session, LOT, now=NOW))
    assert for_request.alpha_kg == pytest.approx(0.4 * alpha_on(kept, date(2027, 2, 1)).estimate)
    assert plain.alpha_kg == pytest.approx(0.4 * alpha_on(kept, TODAY).estimate)


def test_a_lot_without_alpha_brings_an_unknown_amount(session: Session) -> None:
    bare = ListedLotFactory(code="ALDER-2026-02", reports=())
    lots.add(session, bare, cultivar_key="WILLAMETTE")

    assert reserve(session, lot_code="ALDER-2026-02").alpha_kg is None


def test_confirmed_mass_is_taken_and_the_difference_returns_at_delivery(session: Session) -> None:
    code = reserve(session).code
    confirm(session, code, ALDER)
    assert confirm(session, code, FINCH).state == "confirmed"
    assert free_kg(session, now=NOW + 10 * WEEK) == Decimal(60)

    deliver_reservation(session, code, caller=ALDER, delivered_on=TODAY, mass_kg=Decimal("38.5"), now=NOW)

    assert free_kg(session) == Decimal("61.5")
    assert lots.get(session, LOT, now=NOW).taken_kg == Decimal("38.5")


def test_a_second_word_of_the_same_side_writes_nothing(session: Session) -> None:
    code = reserve(session).code
    once = confirm(session, code, ALDER)

    assert confirm(session, code, ALDER, now=NOW + timedelta(hours=1)) == once
    assert show_reservation(session, code, caller=FINCH) == once


def test_a_released_commitment_gives_its_mass_back(session: Session) -> None:
    code = reserve(session).code
    confirm(session, code, ALDER)
    confirm(session, code, FINCH)

    with pytest.raises(IllegalStep):
        release_reservation(session, code, caller=ALDER, now=NOW)
    assert free_kg(session) == Decimal(60)
    assert release_reservation(session, code, caller=SPECIALIST, now=NOW).changed_by == "specialist"
    assert free_kg(session) == Decimal(100)


def test_packages_that_are_promised_are_not_promised_again(session: Session) -> None:
    packages = (
        Package(kind="bale", count=1, net_kg=Decimal(60)),
        Package(kind="bale", count=1, net_kg=Decimal(40)),
    )
    lot = ListedLotFactory(
        code="ALDER-2026-02",
        mass_kg=Decimal(100),
        sold_in="whole_packages",
        packages=packages,
        reports=(),
    )
    lots.add(session, lot, cultivar_key="WILLAMETTE")
    request = wanted(session)
    offer = reserve(session, ALDER, lot_code="ALDER-2026-02", request_code=request)
    first = reserve(session, TEAL, lot_code="ALDER-2026-02")

    with pytest.raises(NotSoldInThatMass):
        reserve(session, TEAL, lot_code="ALDER-2026-02")
    with pytest.raises(NotSoldInThatMass):
        confirm(session, offer.code, FINCH)
    release_reservation(session, first.code, caller=TEAL, now=NOW)
    assert confirm(session, offer.code, FINCH).state == "confirmed"


def test_the_specialist_speaks_for_the_one_side_it_names(session: Session) -> None:
    code = reserve(session).code

    for told in ({}, {"grower_code": "ALDER", "brewery_code": "FINCH"}, {"brewery_code": "TEAL"}):
        with pytest.raises(InvalidRequest):
            confirm(session, code, SPECIALIST, **told)
    said = confirm(session, code, SPECIALIST, brewery_code="FINCH")
    assert (said.confirmed_by, said.changed_by) == (("brewery",), "specialist")
    with pytest.raises(NotAllowed):
        confirm(session, code, FINCH, grower_code="ALDER")


def test_the_two_sides_and_the_specialist_know_of_it(session: Session) -> None:
    code = reserve(session).code

    for caller in (FINCH, ALDER, SPECIALIST):
        assert show_reservation(session, code, caller=caller).code == code
        found = list_reservations(session, caller=caller, filters={}, after=None, limit=9, now=NOW)
        assert [promise.code for promise, _ in found] == [code]
    for caller in (TEAL, Caller("grower", "FINCH")):
        with pytest.raises(NotFound):
            show_reservation(session, code, caller=caller)
        with pytest.raises(NotFound):
            release_reservation(session, code, caller=caller, now=NOW)
        assert list_reservations(session, caller=caller, filters={}, after=None, limit=9, now=NOW) == []
    with pytest.raises(TokenNeeded):
        list_reservations(session, caller=ANYONE, filters={}, after=None, limit=9, now=NOW)


def test_the_brewery_does_not_record_a_delivery(session: Session) -> None:
    code = reserve(session).code

    with pytest.raises(NotAllowed):
        deliver_reservation(session, code, caller=FINCH, delivered_on=TODAY, mass_kg=Decimal(1), now=NOW)
