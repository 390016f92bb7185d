"""Reservations in the records."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.facts import replace
from service.market.matching.requests import Delivery, Request
from service.market.trade.reservations import Reservation
from service.records.goods import lots
from service.records.matching import requests
from service.records.people import parties
from service.records.trade import reservations
from tests.factories import NOW, TODAY, ListedLotFactory, PartyFactory

HELD = Reservation(
    code="FINCH-RES-01",
    lot_code="ALDER-2026-01",
    grower_code="ALDER",
    brewery_code="FINCH",
    request_code="FINCH-REQ-01",
    state="held",
    mass_kg=Decimal("40.125"),
    alpha_kg=2.25,
    held_until=NOW + timedelta(days=7),
    made_at=NOW,
    made_by="brewery:FINCH",
    changed_at=NOW,
    changed_by="brewery:FINCH",
)


@pytest.fixture(autouse=True)
def market(session: Session) -> None:
    for kind, code in (("grower", "ALDER"), ("brewery", "FINCH"), ("brewery", "TEAL")):
        parties.add(session, PartyFactory(kind=kind, code=code))
    for code in ("ALDER-2026-01", "ALDER-2026-02"):
        lots.add(
            session, ListedLotFactory(code=code, mass_kg=Decimal(100), reports=()), cultivar_key="WILLAMETTE"
        )
    wanted = (Delivery(needed_on=TODAY, mass_kg=Decimal(60)),)
    plain = {"role": "aroma", "deliveries": wanted, "made_at": NOW, "made_by": ""}
    requests.add(session, Request(code="FINCH-REQ-01", brewery_code="FINCH", **plain))


def test_a_reservation_comes_back_as_it_went_in(session: Session) -> None:
    bare = replace(
        HELD, code="FINCH-RES-02", request_code=None, alpha_kg=None, state="offered", held_until=None
    )
    reservations.add(session, HELD)
    reservations.add(session, bare)
    session.expire_all()

    assert reservations.get(session, "FINCH-RES-01") == HELD
    assert reservations.get(session, "FINCH-RES-02") == bare


def test_change_writes_over(session: Session) -> None:
    reservations.add(session, HELD)
    delivered = replace(
        HELD,
        state="delivered",
        held_until=None,
        delivered_on=TODAY,
        delivered_kg=Decimal("39.5"),
        grower_confirmed=True,
        brewery_confirmed=True,
        changed_by="grower:ALDER",
    )

    reservations.change(session, delivered)
    session.expire_all()

    assert reservations.get(session, "FINCH-RES-01") == delivered


def test_get_refuses_what_is_not_there(session: Session) -> None:
    with pytest.raises(NotFound, match="there is no reservation FINCH-RES-99"):
        reservations.get(session, "FINCH-RES-99")


def test_a_lot_counts_holds_until_they_expire_and_nothing_of_offers(session: Session) -> None:
    reservations.add(session, HELD)
    reservations.add(session, replace(HELD, code="FINCH-RES-02", state="offered", held_until=None))
    reservations.add(session, replace(HELD, code="FINCH-RES-03", state="released"))

    before = lots.get(session, "ALDER-2026-01", now=NOW + timedelta(days=7, seconds=-1))
    after = lots.get(session, "ALDER-2026-01", now=NOW + timedelta(days=7))

    assert (before.free_kg, after.free_kg) == (Decimal("59.875"), Decimal(100))


@pytest.fixture
def found(session: Session) -> Callable[..., list[str]]:
    told = (
        {"code": "R1"},
        {"code": "R2", "brewery_code": "TEAL", "request_code": None},
        {"code": "R3", "lot_code": "ALDER-2026-02", "held_until": NOW},
        {"code": "R4", "state": "offered", "held_until": None},
        {"code": "R5", "state": "offered", "held_until": NOW},
        {"code": "R6", "state": "confirmed"},
        {"code": "R7", "state": "released"},
    )
    for one in told:
        reservations.add(session, replace(HELD, **one))

    def search(**told: object) -> list[str]:
        plain = {"now": NOW, "limit": 10}
        return [promise.code for promise, _ in reservations.search(session, **{**plain, **told})]

    return search


@pytest.mark.parametrize(
    ("told", "codes"),
    [
        ({}, ["R7", "R6", "R5", "R4", "R3", "R2", "R1"]),
        ({"brewery_code": "TEAL"}, ["R2"]),
        ({"grower_code": "ALDER", "state": "held"}, ["R2", "R1"]),
        ({"grower_code": "FINCH"}, []),
        ({"lot_code": "ALDER-2026-02"}, ["R3"]),
        ({"request_code": "FINCH-REQ-01", "state": "offered"}, ["R4"]),
        ({"state": "expired"}, ["R5", "R3"]),
        ({"state": "confirmed"}, ["R6"]),
        ({"limit": 2}, ["R7", "R6"]),
    ],
    ids=str,
)
def test_search_keeps_to_what_is_named(
    found: Callable[..., list[str]], told: dict[str, object], codes: list[str]
) -> None:
    assert found(**told) == codes


def test_search_goes_on_after_a_position(session: Session, found: Callable[..., list[str]]) -> None:
    position = reservations.search(session, now=NOW, limit=5)[-1][1]

    assert found(after=position) == ["R2", "R1"]


def test_promises_of_a_lot_and_of_a_request(session: Session, found: Callable[..., list[str]]) -> None:
    assert {p.code for p in reservations.search_of_lot(session, "ALDER-2026-01")} == {
        "R1",
        "R2",
        "R4",
        "R5",
        "R6",
    }
    assert [p.code for p in reservations.search_covering(session, "FINCH-REQ-01")] == ["R6"]


def test_next_code_counts_up(session: Session) -> None:
    assert [reservations.next_code(session, "FINCH") for _ in range(2)] == ["FINCH-RES-01", "FINCH-RES-02"]
