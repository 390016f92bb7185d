"""A request is filled by what is confirmed and delivered for it."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from service.facts import replace
from service.market.matching.requests import Delivery, Request
from service.market.trade.reservations import Reservation
from service.records.goods import lots
from service.records.matching import requests
from service.records.people import parties
from service.records.trade import reservations
from service.usecases.matching.request_states import settle_request, settled
from tests.factories import NOW, ListedLotFactory, PartyFactory

WANTED = Request(
    code="FINCH-REQ-01",
    brewery_code="FINCH",
    role="bittering",
    deliveries=(Delivery(needed_on=date(2027, 2, 1), mass_kg=Decimal(60)),),
    made_at=NOW,
)
PROMISE = Reservation(
    code="FINCH-RES-01",
    lot_code="ALDER-2026-01",
    grower_code="ALDER",
    brewery_code="FINCH",
    request_code="FINCH-REQ-01",
    state="confirmed",
    mass_kg=Decimal(60),
    alpha_kg=3.0,
    held_until=NOW + timedelta(days=7),
    made_at=NOW,
    made_by="",
    changed_at=NOW,
    changed_by="",
)


@pytest.fixture(autouse=True)
def books(session: Session) -> None:
    parties.add(session, PartyFactory(kind="grower", code="ALDER"))
    parties.add(session, PartyFactory(kind="brewery", code="FINCH"))
    lots.add(session, ListedLotFactory(code="ALDER-2026-01", reports=()), cultivar_key="WILLAMETTE")
    requests.add(session, WANTED)


@pytest.mark.parametrize(
    ("told", "state"),
    [
        ({}, "filled"),
        ({"mass_kg": Decimal(58)}, "open"),
        ({"state": "held"}, "open"),
        ({"state": "offered"}, "open"),
        ({"state": "delivered", "delivered_kg": Decimal("59.5")}, "filled"),
        ({"state": "delivered", "delivered_kg": Decimal(20)}, "open"),
        ({"request_code": None}, "open"),
    ],
    ids=str,
)
def test_only_confirmed_and_delivered_mass_fills_a_request(
    session: Session, told: dict[str, object], state: str
) -> None:
    reservations.add(session, replace(PROMISE, **told))

    settle_request(session, "FINCH-REQ-01")

    assert requests.get(session, "FINCH-REQ-01").state == state


def test_a_need_for_alpha_is_filled_by_alpha(session: Session) -> None:
    by_alpha = replace(WANTED, deliveries=(Delivery(needed_on=date(2027, 2, 1), alpha_kg=Decimal(5)),))
    reservations.add(session, PROMISE)

    assert settled(session, by_alpha).state == "open"
    reservations.add(session, replace(PROMISE, code="FINCH-RES-02", alpha_kg=2.0))
    assert settled(session, by_alpha).state == "filled"


def test_a_withdrawn_request_stays_withdrawn(session: Session) -> None:
    reservations.add(session, PROMISE)
    requests.change(session, replace(WANTED, state="withdrawn"))

    settle_request(session, "FINCH-REQ-01")
    settle_request(session, None)

    assert requests.get(session, "FINCH-REQ-01").state == "withdrawn"
