"""Growers and breweries in the books: who is welcomed by whom, and how much of them is seen."""

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from service.errors import AlreadyExists, NotAllowed, NotFound, PreconditionStale, TokenNeeded
from service.facts import replace
from service.market.people.access import ANYONE, Caller
from service.market.people.parties import Party
from service.market.trade.reservations import Reserve
from service.records.goods import lots
from service.usecases.people.parties import list_parties, revise_party, show_party, welcome_party
from service.usecases.trade.reservations import release_reservation, reserve_mass
from tests.factories import NOW, ListedLotFactory, PartyFactory

SPECIALIST, ALDER, ROWAN = Caller("specialist"), Caller("grower", "ALDER"), Caller("grower", "ROWAN")
FINCH, TEAL = Caller("brewery", "FINCH"), Caller("brewery", "TEAL")
YARD = PartyFactory(code="ALDER", latitude_deg=44.953, longitude_deg=-64.408)


@pytest.fixture
def valley(session: Session) -> Session:
    for party in (
        YARD,
        PartyFactory(code="ROWAN"),
        PartyFactory(kind="brewery", code="FINCH"),
        PartyFactory(kind="brewery", code="TEAL"),
    ):
        welcome_party(session, caller=SPECIALIST, party=party)
    return session


def promise(session: Session) -> str:
    lots.add(session, ListedLotFactory(code="ALDER-2026-01"), cultivar_key="WILLAMETTE")
    asked = {"lot_code": "ALDER-2026-01", "mass_kg": Decimal(10), "request_code": None, "held_until": None}
    nobody = {"brewery_code": None, "grower_code": None}
    return reserve_mass(session, caller=FINCH, command=Reserve(**{**asked, **nobody}), now=NOW).code


def email(session: Session, caller: Caller, kind: str = "grower", code: str = "ALDER") -> str | None:
    """The address somebody reads, shown alone or in the list."""
    alone = show_party(session, caller=caller, kind=kind, code=code)
    listed = list_parties(session, caller=caller, kind=kind, after=None, limit=9)
    assert alone in listed
    return alone.email


def unchanged(_party: Party) -> None:
    """Let any version pass."""


def test_only_the_specialist_welcomes_and_each_code_once(session: Session) -> None:
    for caller, refusal in ((ANYONE, TokenNeeded), (ALDER, NotAllowed), (FINCH, NotAllowed)):
        with pytest.raises(refusal):
            welcome_party(session, caller=caller, party=YARD)
    assert list_parties(session, caller=SPECIALIST, kind="grower", after=None, limit=9) == []

    assert welcome_party(session, caller=SPECIALIST, party=YARD) == YARD
    assert show_party(session, caller=SPECIALIST, kind="grower", code="ALDER") == YARD
    with pytest.raises(AlreadyExists), session.begin_nested():
        welcome_party(session, caller=SPECIALIST, party=replace(YARD, name="Another"))
    assert show_party(session, caller=SPECIALIST, kind="grower", code="ALDER") == YARD


def test_a_stranger_sees_a_tenth_of_a_degree_and_no_address(valley: Session) -> None:
    seen = show_party(valley, caller=ANYONE, kind="grower", code="ALDER")

    assert seen == replace(YARD, email=None, latitude_deg=45.0, longitude_deg=-64.4, elevation_m=None)


def test_the_known_see_the_place_but_not_the_address(valley: Session) -> None:
    for caller in (ROWAN, FINCH):
        assert show_party(valley, caller=caller, kind="grower", code="ALDER") == replace(YARD, email=None)


def test_both_sides_of_a_promise_read_the_address_until_it_is_released(valley: Session) -> None:
    code = promise(valley)

    assert email(valley, FINCH) == email(valley, ALDER) == email(valley, SPECIALIST) == "alder@example.org"
    assert email(valley, TEAL) is email(valley, ROWAN) is email(valley, ANYONE) is None
    assert email(valley, ALDER, "brewery", "FINCH") == "finch@example.org"
    assert email(valley, ALDER, "brewery", "TEAL") is None
    assert email(valley, TEAL, "brewery", "FINCH") is None
    release_reservation(valley, code, caller=FINCH, now=NOW)
    assert email(valley, FINCH) is None


def test_a_list_goes_on_after_a_code(valley: Session) -> None:
    def codes(after: str | None, limit: int) -> list[str]:
        found = list_parties(valley, caller=ANYONE, kind="grower", after=after, limit=limit)
        return [party.code for party in found]

    assert (codes(None, 9), codes(None, 1), codes("ALDER", 9)) == (["ALDER", "ROWAN"], ["ALDER"], ["ROWAN"])


def test_a_party_changes_its_own_record_and_no_other(valley: Session) -> None:
    def revise(caller: Caller, code: str = "ALDER") -> Party:
        return revise_party(
            valley,
            caller=caller,
            kind="grower",
            code=code,
            changes={"locality": "Elder Brook"},
            unless_changed=unchanged,
        )

    for caller, refusal in (
        (ANYONE, TokenNeeded),
        (ROWAN, NotAllowed),
        (Caller("brewery", "ALDER"), NotAllowed),
    ):
        with pytest.raises(refusal):
            revise(caller)
    with pytest.raises(NotFound):
        revise(SPECIALIST, "NOBODY")
    assert show_party(valley, caller=ALDER, kind="grower", code="ALDER") == YARD

    assert revise(ALDER) == replace(YARD, locality="Elder Brook")
    assert show_party(valley, caller=ALDER, kind="grower", code="ALDER") == replace(
        YARD, locality="Elder Brook"
    )


def test_a_stale_version_changes_nothing(valley: Session) -> None:
    def stale(_party: Party) -> None:
        raise PreconditionStale("it changed")

    with pytest.raises(PreconditionStale):
        revise_party(
            valley, caller=ALDER, kind="grower", code="ALDER", changes={"name": "x"}, unless_changed=stale
        )

    assert show_party(valley, caller=ALDER, kind="grower", code="ALDER") == YARD


def test_nobody_is_not_found(valley: Session) -> None:
    for kind, code in (("grower", "FINCH"), ("brewery", "NOBODY")):
        with pytest.raises(NotFound):
            show_party(valley, caller=SPECIALIST, kind=kind, code=code)
