"""Growers and breweries in the records."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from decimal import Decimal

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.errors import AlreadyExists, NotFound
from service.facts import replace
from service.market.people.parties import Party, unit_vector
from service.market.trade.reservations import Reservation
from service.records.goods import lots
from service.records.people import parties
from service.records.session import Records
from service.records.tables import PartyRow
from service.records.trade import reservations
from tests.factories import NOW, ListedLotFactory, PartyFactory, PartyRowFactory

BARE = Party(
    kind="brewery",
    code="FINCH",
    name="Finch Lane Beer",
    email=None,
    country="CA",
    locality="Salt Marsh",
    latitude_deg=-12.345678901234567,
    longitude_deg=179.999999999,
    elevation_m=None,
)


@pytest.mark.parametrize(
    "party", [BARE, PartyFactory(code="ALDER", name="Ałder Żyła 山")], ids=["bare", "full"]
)
def test_a_party_comes_back_as_it_went_in(session: Session, party: Party) -> None:
    parties.add(session, party)
    session.expire_all()

    assert parties.get(session, party.kind, party.code) == party
    assert parties.get(session, party.kind, party.code, lock=True) == party


def test_the_place_is_kept_as_a_unit_vector_that_follows_it(session: Session) -> None:
    def kept() -> tuple[float, ...]:
        query = sa.select(PartyRow.unit_x, PartyRow.unit_y, PartyRow.unit_z)
        return tuple(session.execute(query).one())

    parties.add(session, BARE)
    assert kept() == BARE.unit_vector
    parties.change(session, replace(BARE, latitude_deg=45.0, longitude_deg=-64.0))
    session.flush()

    assert kept() == unit_vector(latitude_deg=45.0, longitude_deg=-64.0)


def test_a_party_of_the_other_kind_is_another_one(session: Session) -> None:
    parties.add(session, BARE)

    with pytest.raises(NotFound, match="there is no grower FINCH"):
        parties.get(session, "grower", "FINCH")
    grower = PartyFactory(code="FINCH")
    parties.add(session, grower)

    assert parties.get(session, "grower", "FINCH") == grower
    assert parties.get(session, "brewery", "FINCH") == BARE


def test_a_code_is_given_once(records: Records) -> None:
    records.write(lambda session: parties.add(session, BARE))

    with pytest.raises(AlreadyExists, match="there is a brewery FINCH already") as refusal:
        records.write(lambda session: parties.add(session, replace(BARE, name="Another")))

    assert refusal.value.facts == {"party_code": "FINCH"}
    assert records.read(lambda session: parties.get(session, "brewery", "FINCH")) == BARE


def test_change_writes_over_and_may_remove(session: Session) -> None:
    party = PartyFactory(code="ALDER")
    changed = replace(party, name="Alder Bend", email=None, elevation_m=None, locality="Bend")
    parties.add(session, party)

    parties.change(session, changed)
    session.flush()
    session.expire_all()

    assert parties.get(session, "grower", "ALDER") == changed
    with pytest.raises(NotFound, match="NOBODY"):
        parties.change(session, replace(party, code="NOBODY"))


def test_search_gives_one_kind_by_code_page_by_page(session: Session) -> None:
    for code in ("ROWAN", "ALDER", "SEDGE", "BIRCH"):
        parties.add(session, PartyFactory(code=code))
    parties.add(session, BARE)

    def page(after: str | None, limit: int) -> list[str]:
        return [party.code for party in parties.search(session, "grower", after=after, limit=limit)]

    assert page(None, 10) == ["ALDER", "BIRCH", "ROWAN", "SEDGE"]
    assert page(None, 2) == ["ALDER", "BIRCH"]
    assert page("BIRCH", 2) == ["ROWAN", "SEDGE"]
    assert page("SEDGE", 2) == []


def test_numbers_are_counted_for_each_party(session: Session) -> None:
    for kind in ("grower", "brewery"):
        parties.add(session, PartyFactory(kind=kind, code="ALDER"))

    assert [parties.next_number(session, "grower", "ALDER") for _ in range(3)] == [1, 2, 3]
    assert parties.next_number(session, "brewery", "ALDER") == 1
    with pytest.raises(NotFound, match="NOBODY"):
        parties.next_number(session, "grower", "NOBODY")


def test_no_number_is_given_twice_at_once(committed: Records) -> None:
    committed.write(lambda session: parties.add(session, PartyFactory(code="ALDER")))

    def next_number(_: int) -> int:
        return committed.write(lambda session: parties.next_number(session, "grower", "ALDER"))

    with ThreadPoolExecutor(max_workers=6) as threads:
        given = sorted(threads.map(next_number, range(24)))

    assert given == list(range(1, 25))


@pytest.mark.parametrize("state", ["offered", "held", "confirmed", "delivered", "released"])
def test_a_promise_that_is_not_released_makes_two_parties_known_to_each_other(
    session: Session, state: str
) -> None:
    for kind, code in (("grower", "ALDER"), ("grower", "ROWAN"), ("brewery", "FINCH"), ("brewery", "TEAL")):
        parties.add(session, PartyFactory(kind=kind, code=code))
    lots.add(session, ListedLotFactory(code="ALDER-2026-01"), cultivar_key="WILLAMETTE")
    for number in (1, 2):
        promise = Reservation(
            code=f"FINCH-RES-{number:02d}",
            lot_code="ALDER-2026-01",
            grower_code="ALDER",
            brewery_code="FINCH",
            request_code=None,
            state=state,
            mass_kg=Decimal(5),
            alpha_kg=None,
            held_until=NOW + timedelta(days=7),
            made_at=NOW,
            made_by="brewery:FINCH",
            changed_at=NOW,
            changed_by="brewery:FINCH",
        )
        reservations.add(session, promise)
    known = state != "released"

    assert parties.search_committed(session, "grower", to="FINCH") == ({"ALDER"} if known else set())
    assert parties.search_committed(session, "brewery", to="ALDER") == ({"FINCH"} if known else set())
    assert parties.search_committed(session, "grower", to="TEAL") == set()
    assert parties.search_committed(session, "brewery", to="ROWAN") == set()


def test_the_database_knows_two_kinds_of_party(session: Session) -> None:
    with pytest.raises(IntegrityError), session.begin_nested():
        PartyRowFactory(kind="maltster")
