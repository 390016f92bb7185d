"""Lots in the records: the fact that goes in comes out, and what is free is one sum in two languages."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.facts import field_names, replace
from service.market.goods.lots import Lot, Package
from service.market.goods.provenance import Certification
from service.market.matching.search import SearchFigures
from service.market.matching.search_figures import figures_to_keep
from service.market.trade.reservations import Reservation
from service.records.goods import lots
from service.records.people import parties
from service.records.tables import Base, LabReportRow, LotRow
from service.records.trade import reservations
from tests.factories import (
    NOW,
    LabReportFactory,
    ListedLotFactory,
    LotFactory,
    PartyFactory,
    SpellFactory,
    log_of,
)

CODE = "ALDER-2026-01"
FULL_REPORT = LabReportFactory(
    code="R1",
    basis="dry",
    cohumulone_percent_of_alpha=28.5,
    oil_shares_percent={"myrcene": 41.5, "humulene": 17.25},
    oil_shares_basis="of_oil",
    absorbance={"a_275_nm": 0.123, "a_325_nm": 0.456},
    uncertainty={"alpha_percent": 0.15},
    method_note="extract kept cold",
    corrects="R0",
    reason="a figure was misread",
    corrected_by="R2",
    confirmed=True,
)
FULL = LotFactory(
    code=CODE,
    state="listed",
    readiness="analysed",
    harvested_until=date(2026, 8, 31),
    expected_kg=Decimal("130.125"),
    harvest_window_from=date(2026, 8, 20),
    harvest_window_to=date(2026, 9, 5),
    picked_at=datetime(2026, 8, 31, 15, 30, tzinfo=UTC),
    collect_at=datetime(2026, 9, 1, 6, tzinfo=UTC),
    on_hold=True,
    mass_kg=Decimal("120.501"),
    taken_kg=Decimal("20.001"),
    price_per_kg=Decimal("24.1234"),
    currency="CAD",
    price_open=True,
    own_lot_number="row 7 / 山",
    packages=(
        Package(kind="box", count=2, net_kg=Decimal("20.25")),
        Package(kind="foil", count=16, net_kg=Decimal(5)),
    ),
    sold_in="whole_packages",
    order_kg_min=Decimal("0.5"),
    note="two lines\nof text",
    spells=(
        SpellFactory(),
        SpellFactory(began_on=date(2026, 10, 1), packing="barrier_low_oxygen", residual_oxygen_percent=0.8),
    ),
    reports=(FULL_REPORT, LabReportFactory(code="R2", basis="as_is")),
    logs=(log_of(days=3, at_c=25.0), replace(log_of(code="T2"), taken_back_at=NOW, taken_back_reason="slip")),
    first_listed_on=date(2026, 9, 10),
    block="North  Field",
    origin_country="CA",
    origin_subdivision="CA-NS",
    certifications=(
        Certification(
            kind="organic",
            scheme="Valley Organic",
            certifier="Heron",
            number="7",
            valid_until=date(2027, 1, 31),
        ),
        Certification(
            kind="other", scheme="Clean Brook", certifier="Heron", number="8", valid_until=date(2026, 1, 31)
        ),
    ),
)
BARE = LotFactory(
    code="ALDER-2026-02",
    cultivar="Own Seedling",
    cultivar_code=None,
    crop_year=None,
    harvested_on=None,
    mass_kg=None,
    spells=(),
)


@pytest.fixture(autouse=True)
def people(session: Session) -> None:
    for kind, code in (("grower", "ALDER"), ("grower", "ROWAN"), ("brewery", "FINCH"), ("brewery", "TEAL")):
        parties.add(session, PartyFactory(kind=kind, code=code))


def add(session: Session, *some: Lot) -> None:
    for lot in some:
        lots.add(session, lot, cultivar_key=lot.cultivar.upper())
    session.expire_all()


def promise(session: Session, number: int, mass_kg: str, state: str = "held", days: float = 7) -> None:
    reservations.add(
        session,
        Reservation(
            code=f"FINCH-RES-{number:02d}",
            lot_code=CODE,
            grower_code="ALDER",
            brewery_code="FINCH",
            request_code=None,
            state=state,
            mass_kg=Decimal(mass_kg),
            alpha_kg=None,
            held_until=NOW + timedelta(days=days),
            made_at=NOW,
            made_by="brewery:FINCH",
            changed_at=NOW,
            changed_by="brewery:FINCH",
        ),
    )


@contextmanager
def statements(session: Session) -> Iterator[list[str]]:
    """What is asked of the database in the meantime."""
    asked: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        asked.append(statement)

    sa.event.listen(session.get_bind(), "before_cursor_execute", note)
    yield asked
    sa.event.remove(session.get_bind(), "before_cursor_execute", note)


def test_the_full_lot_leaves_no_field_at_what_nobody_said() -> None:
    """Otherwise the next test would not see a field that is forgotten on the way."""
    silent = Lot(code="", grower_code="", cultivar="", role="", form="", made_at=NOW, made_by="")
    same = {name for name in field_names(Lot) if getattr(FULL, name) == getattr(silent, name)}

    assert same == {"made_at", "held_kg"}


LISTED = replace(FULL, state="listed")


@pytest.mark.parametrize("lot", [FULL, BARE], ids=["full", "bare"])
def test_a_lot_comes_back_as_it_went_in(session: Session, lot: Lot) -> None:
    add(session, lot)

    assert lots.get(session, lot.code, now=NOW) == lot
    assert lots.get(session, lot.code, now=NOW, lock=True) == lot


@pytest.mark.parametrize("lock", [False, True])
def test_a_lot_that_is_not_there_is_named(session: Session, lock: bool) -> None:
    with pytest.raises(NotFound, match="there is no lot ALDER-2026-99"):
        lots.get(session, "ALDER-2026-99", now=NOW, lock=lock)


def test_a_lot_is_of_a_grower_in_the_books(session: Session) -> None:
    with pytest.raises(NotFound, match="there is no grower FINCH"):
        add(session, replace(BARE, grower_code="FINCH"))


def test_change_writes_over_adds_and_takes_away_parts(session: Session) -> None:
    add(session, FULL)
    changed = replace(
        FULL,
        state="withdrawn",
        price_per_kg=None,
        currency=None,
        packages=(Package(kind="bale", count=1, net_kg=Decimal(90)),),
        spells=(*FULL.spells, SpellFactory(began_on=date(2026, 11, 1), packing="open")),
        reports=(replace(FULL.reports[0], confirmed=False),),
    )

    lots.change(session, changed)
    session.expire_all()

    assert lots.get(session, CODE, now=NOW) == changed
    assert lots.get_row(session, CODE).packing == "open"


def test_a_report_keeps_its_row_while_others_are_added(session: Session) -> None:
    add(session, replace(FULL, reports=(FULL_REPORT,)))
    query = sa.select(LabReportRow.id).where(LabReportRow.code == "R1")
    before = session.scalar(query)

    lots.change(session, FULL)

    assert session.scalar(query) == before


def test_every_change_of_a_listed_lot_keeps_its_search_figures_and_a_withdrawal_removes_them(
    session: Session,
) -> None:
    add(session, LISTED)

    def kept() -> SearchFigures:
        session.expire_all()
        row = lots.get_row(session, CODE)
        return SearchFigures(**{name: getattr(row, f"search_{name}") for name in field_names(SearchFigures)})

    lots.change(session, LISTED, cultivar_key="CASCADE")
    assert kept() == figures_to_keep(LISTED)
    assert kept().log_alpha is not None
    lots.change(session, replace(LISTED, price_per_kg=Decimal(30)))
    assert kept() == figures_to_keep(LISTED)
    lots.change(session, replace(LISTED, state="withdrawn"))
    assert kept() == SearchFigures()
    assert lots.get_row(session, CODE).cultivar_key == "CASCADE"


def test_what_is_taken_is_counted_and_given_back_exactly(session: Session) -> None:
    add(session, FULL)

    for mass_kg in ("0.1", "0.2", "-0.3", "0.001"):
        lots.take(session, CODE, Decimal(mass_kg))

    assert lots.get(session, CODE, now=NOW).taken_kg == Decimal("20.002")


def test_the_database_refuses_to_take_less_than_nothing(session: Session) -> None:
    add(session, FULL)

    with pytest.raises(IntegrityError), session.begin_nested():
        lots.take(session, CODE, Decimal("-20.002"))


def test_a_lot_goes_with_all_its_parts(session: Session) -> None:
    add(session, FULL, BARE)

    lots.remove(session, CODE)

    with pytest.raises(NotFound):
        lots.get(session, CODE, now=NOW)
    left = {
        name: session.scalar(sa.select(sa.func.count()).select_from(table))
        for name, table in Base.metadata.tables.items()
        if name in ("lot", "storage_spell", "package", "lab_report")
    }
    assert left == {"lot": 1, "storage_spell": 0, "package": 0, "lab_report": 0}


def test_the_database_keeps_a_lot_that_is_promised(session: Session) -> None:
    add(session, FULL)
    promise(session, 1, "5", state="released")

    with pytest.raises(IntegrityError), session.begin_nested():
        lots.remove(session, CODE)


@pytest.mark.parametrize("state", ["offered", "held", "confirmed", "delivered", "released"])
def test_who_is_committed_to_a_lot(session: Session, state: str) -> None:
    add(session, FULL, BARE)
    promise(session, 1, "5", state=state)

    assert lots.is_committed_to(session, CODE, brewery_code="FINCH") is (state != "released")
    assert not lots.is_committed_to(session, CODE, brewery_code="TEAL")
    assert not lots.is_committed_to(session, BARE.code, brewery_code="FINCH")


def test_codes_count_on_through_the_years_for_each_grower(session: Session) -> None:
    codes = [
        lots.next_code(session, grower, year=year)
        for grower, year in (("ALDER", 2025), ("ALDER", 2026), ("ROWAN", 2026))
    ]

    assert codes == ["ALDER-2025-01", "ALDER-2026-02", "ROWAN-2026-01"]


@pytest.mark.parametrize(
    ("lot", "free_kg"),
    [
        (FULL, "88.3"),
        (replace(FULL, mass_kg=None), "97.924"),
        (replace(FULL, mass_kg=None, expected_kg=None, taken_kg=Decimal(0)), "-12.2"),
    ],
    ids=["picked", "announced", "neither"],
)
def test_free_is_what_no_running_hold_keeps_in_sql_as_in_the_fact(
    session: Session, lot: Lot, free_kg: str
) -> None:
    add(session, lot)
    promise(session, 1, "12.1")
    promise(session, 2, "0.1")
    promise(session, 3, "40", days=0)
    promise(session, 4, "7", state="offered")
    promise(session, 5, "9", state="confirmed")

    asked = session.scalar(sa.select(lots.free_kg_column(NOW)).where(LotRow.code == CODE))

    assert lots.get(session, CODE, now=NOW).held_kg == Decimal("12.2")
    assert lots.get(session, CODE, now=NOW).free_kg == asked == Decimal(free_kg)
    assert lots.get(session, CODE, now=NOW + timedelta(days=7)).held_kg == 0


def own(session: Session, **told: object) -> list[str]:
    asked = {"grower_code": "ALDER", "state": None, "after": None, "limit": 10, **told}
    found = lots.search_own(session, now=NOW, **asked)  # type: ignore[arg-type]  # a test's plain words
    assert found == [lots.get(session, lot.code, now=NOW) for lot in found]
    return [lot.code for lot in found]


@pytest.fixture
def six_lots(session: Session) -> Session:
    draft = LotFactory(code="ALDER-2026-03", mass_kg=Decimal(10))
    add(
        session,
        ListedLotFactory(code="ALDER-2026-04", mass_kg=Decimal(10), taken_kg=Decimal(10)),
        replace(draft, code="ALDER-2026-05", state="withdrawn"),
        ListedLotFactory(code=CODE, mass_kg=Decimal(10), taken_kg=Decimal("4.999")),
        ListedLotFactory(code="ALDER-2026-02", mass_kg=Decimal(10)),
        draft,
        replace(draft, code="ROWAN-2026-01", grower_code="ROWAN"),
    )
    promise(session, 1, "5.001")
    return session


@pytest.mark.parametrize(
    ("state", "numbers"),
    [(None, "01 02 03 04 05"), ("draft", "03"), ("listed", "02"), ("sold_out", "01 04"), ("withdrawn", "05")],
)
def test_ones_own_lots_are_found_by_the_state_they_show(
    six_lots: Session, state: str | None, numbers: str
) -> None:
    assert own(six_lots, state=state) == [f"ALDER-2026-{number}" for number in numbers.split()]


def test_everybodys_lots_come_page_by_page(six_lots: Session) -> None:
    assert own(six_lots, grower_code=None, after="ALDER-2026-04") == ["ALDER-2026-05", "ROWAN-2026-01"]
    assert own(six_lots, limit=2) == [CODE, "ALDER-2026-02"]
    assert own(six_lots, limit=2, after="ALDER-2026-02") == ["ALDER-2026-03", "ALDER-2026-04"]
    assert own(six_lots, after="ALDER-2026-05") == []
    assert own(six_lots, grower_code="ROWAN", state="listed") == []


@pytest.mark.parametrize("count", [1, 3])
def test_as_many_questions_for_one_own_lot_as_for_three(session: Session, count: int) -> None:
    add(session, *(replace(FULL, code=f"ALDER-2026-{number:02d}") for number in range(count)))

    with statements(session) as asked:
        found = lots.search_own(session, grower_code="ALDER", state=None, after=None, limit=10, now=NOW)

    assert (len(found), len(asked)) == (count, 7)
