"""Requests in the records: the same fact comes back out."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.facts import replace
from service.market.brewing.bitterness_targets import BitternessTarget
from service.market.matching.requests import Delivery, OilLike, Request
from service.records.matching import requests
from service.records.people import parties
from tests.factories import NOW, TODAY, PartyFactory

FULL = Request(
    code="FINCH-REQ-01",
    brewery_code="FINCH",
    role="bittering",
    role_strict=True,
    firmness="firm",
    cultivars=("Nugget",),
    accept_others=False,
    forms=("pellet",),
    packings=("barrier_nitrogen", "barrier_vacuum"),
    deliveries=(
        Delivery(needed_on=date(2027, 2, 1), mass_kg=Decimal("60.125")),
        Delivery(needed_on=date(2027, 1, 1), alpha_kg=Decimal("0.5")),
        Delivery(
            needed_on=date(2027, 3, 1),
            bitterness=BitternessTarget(
                ibu=35.0, volume_l=20000.0, gravity_sg=1.056, at="whirlpool", minutes=20.0, temperature_c=90.0
            ),
        ),
    ),
    alpha_percent_min=9.0,
    alpha_percent_max=15.0,
    hop_storage_index_max=0.4,
    moisture_percent_max=11.0,
    oil_ml_per_100g_min=0.5,
    within_km=200.0,
    price_per_kg_max=Decimal("30.25"),
    price_per_kg_alpha_max=Decimal(300),
    currency="CAD",
    lots_max=3,
    parcel_kg_min=Decimal("5.5"),
    weights={"price": 2.0},
    oil_like=OilLike(lot_code="ALDER-2026-01"),
    note="for the winter",
    made_at=NOW,
    made_by="brewery:FINCH",
)


@pytest.fixture(autouse=True)
def breweries(session: Session) -> None:
    parties.add(session, PartyFactory(kind="brewery", code="FINCH"))
    parties.add(session, PartyFactory(kind="brewery", code="TEAL"))


def test_a_request_comes_back_as_it_went_in(session: Session) -> None:
    requests.add(session, FULL)
    session.expire_all()

    assert requests.get(session, "FINCH-REQ-01") == FULL
    assert requests.get(session, "FINCH-REQ-01", lock=True) == FULL


@given(mass_kg=st.decimals("0.001", 10_000_000, places=3))
@settings(max_examples=15)
def test_masses_stay_exact(session: Session, mass_kg: Decimal) -> None:
    code = requests.next_code(session, "FINCH")
    wanted = replace(FULL, code=code, deliveries=(Delivery(needed_on=TODAY, mass_kg=mass_kg, alpha_kg=None),))
    requests.add(session, wanted)
    session.expire_all()

    assert requests.get(session, code).mass_kg == mass_kg


def test_change_writes_over(session: Session) -> None:
    requests.add(session, FULL)
    changed = replace(FULL, state="withdrawn", note=None, cultivars=(), lots_max=None, oil_like=None)

    requests.change(session, changed)
    session.expire_all()

    assert requests.get(session, "FINCH-REQ-01") == changed
    named = replace(changed, oil_like=OilLike(cultivar="Saazer"))
    requests.change(session, named)
    session.expire_all()
    assert requests.get(session, "FINCH-REQ-01") == named


def test_get_refuses_what_is_not_there(session: Session) -> None:
    with pytest.raises(NotFound, match="there is no request FINCH-REQ-99"):
        requests.get(session, "FINCH-REQ-99")


def test_next_code_counts_up(session: Session) -> None:
    assert [requests.next_code(session, "FINCH") for _ in range(2)] == ["FINCH-REQ-01", "FINCH-REQ-02"]


def test_search_is_newest_first_by_brewery_and_shown_state(session: Session) -> None:
    past = (Delivery(needed_on=date(2026, 11, 24), mass_kg=Decimal(1)),)
    for number, told in enumerate(
        ({}, {"deliveries": past}, {"state": "filled"}, {"state": "withdrawn"}, {"brewery_code": "TEAL"})
    ):
        requests.add(session, replace(FULL, code=f"Q{number}", **told))

    def found(**told: object) -> list[str]:
        plain = {"brewery_code": "FINCH", "state": None, "today": TODAY, "after": None, "limit": 10}
        return [request.code for request, _ in requests.search(session, **{**plain, **told})]

    assert found() == ["Q3", "Q2", "Q1", "Q0"]
    assert found(brewery_code=None) == ["Q4", "Q3", "Q2", "Q1", "Q0"]
    assert {state: found(state=state) for state in ("open", "lapsed", "filled", "withdrawn")} == {
        "open": ["Q0"],
        "lapsed": ["Q1"],
        "filled": ["Q2"],
        "withdrawn": ["Q3"],
    }
    first = requests.search(session, brewery_code="FINCH", state=None, today=TODAY, after=None, limit=2)
    assert found(after=first[-1][1], limit=2) == ["Q1", "Q0"]
