"""The region's cultivars in the records: the same fact comes back out."""

from datetime import date

import pytest
import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from service.errors import AlreadyExists, NotFound
from service.facts import replace
from service.market.goods.cultivars import CultivarStatus, RegionalCultivar
from service.records.goods import cultivars
from service.records.session import make_engine
from service.reference.cultivars import Figure

FIGURE = Figure(
    quantity="alpha_percent",
    low=5.1,
    high=7.3,
    unit="% by weight as is",
    is_single_mean=False,
    basis=None,
    mark="told by the specialist",
    source="Valley trial of 2024",
    note="three years",
)
DWARF = RegionalCultivar(
    code="VALLEY-DWARF",
    denomination="Válley Dwarf",
    synonyms=("ホップ", "Trial 7"),
    role="aroma",
    source="Valley trial of 2024",
    figures=(FIGURE, replace(FIGURE, quantity="beta_percent", basis="us", note=None)),
)


def found(country: str = "CA", **told: object) -> CultivarStatus:
    status = CultivarStatus(
        cultivar_code="VALLEY-DWARF",
        country=country,
        status="public",
        source="the breeder",
        checked_on=date(2026, 11, 1),
    )
    return replace(status, **told)


def test_a_cultivar_comes_back_as_it_was(session: Session) -> None:
    cultivars.add(session, DWARF)
    session.expire_all()

    assert cultivars.get(session, "VALLEY-DWARF") == DWARF
    assert cultivars.search(session, lock=True) == [DWARF]


def test_a_code_that_nobody_gave_is_not_found(session: Session) -> None:
    cultivars.add(session, DWARF)

    with pytest.raises(NotFound):
        cultivars.get(session, "valley-dwarf")
    with pytest.raises(NotFound, match="there is no cultivar NONE"):
        cultivars.get(session, "NONE")
    with pytest.raises(NotFound):
        cultivars.change(session, replace(DWARF, code="NONE"))


def test_a_code_is_given_once(session: Session) -> None:
    cultivars.add(session, DWARF)

    with pytest.raises(AlreadyExists, match="there is a cultivar VALLEY-DWARF already"):
        cultivars.add(session, replace(DWARF, denomination="Another"))


def test_a_change_writes_all_of_the_fact(session: Session) -> None:
    cultivars.add(session, DWARF)
    changed = RegionalCultivar(
        code="VALLEY-DWARF", denomination="Valley Giant", synonyms=(), role="dual", source="a register"
    )

    cultivars.change(session, changed)
    session.expire_all()

    assert cultivars.get(session, "VALLEY-DWARF") == changed


def test_search_stands_in_the_order_of_codes(session: Session) -> None:
    for code in ("C-2", "A-1", "B-3"):
        cultivars.add(session, replace(DWARF, code=code))

    assert [added.code for added in cultivars.search(session)] == ["A-1", "B-3", "C-2"]


def test_findings_are_kept_one_for_each_country(session: Session) -> None:
    cultivars.change_statuses(session, "VALLEY-DWARF", [found("US"), found("CA")])
    cultivars.change_statuses(session, "CASCADE", [found("DE")])
    later = found("CA", status="protected", source="a register", checked_on=date(2026, 11, 20))

    cultivars.change_statuses(session, "VALLEY-DWARF", [later, found("DE")])
    session.expire_all()

    assert cultivars.search_statuses(session, "VALLEY-DWARF") == [later, found("DE")]
    assert cultivars.search_statuses(session, "CASCADE") == [found("DE", cultivar_code="CASCADE")]


def test_a_finding_keeps_its_row_when_it_changes(session: Session) -> None:
    numbers = sa.text("SELECT id FROM cultivar_status ORDER BY id")
    cultivars.change_statuses(session, "CASCADE", [found("CA")])
    before = session.scalars(numbers).all()

    cultivars.change_statuses(session, "CASCADE", [found("CA", status="unconfirmed")])

    assert session.scalars(numbers).all() == before
    assert len(before) == 1


@pytest.mark.parametrize("rows", [1, 3])
def test_findings_of_many_cultivars_are_read_at_once(session: Session, rows: int) -> None:
    codes = [f"C-{number}" for number in range(rows)]
    for code in codes:
        cultivars.change_statuses(session, code, [found("CA"), found("US")])
    session.expire_all()
    said: list[str] = []
    connection = session.connection()
    event.listen(connection, "before_cursor_execute", lambda *told: said.append(told[2]))

    by_code = cultivars.search_all_statuses(session, [*codes, "NONE"])

    assert len(said) == 1
    assert {code: [s.country for s in statuses] for code, statuses in by_code.items()} == {
        **{code: ["CA", "US"] for code in codes},
        "NONE": [],
    }


def test_the_books_stay_still_for_whoever_locked_them(postgresql_address: str) -> None:
    """No name is given to two cultivars by two who looked at once; on SQLite a writer is alone anyway."""
    engine = make_engine(postgresql_address)
    with Session(engine) as first, Session(engine) as second:
        cultivars.search(first, lock=True)
        second.execute(sa.text("SET LOCAL lock_timeout = '100ms'"))

        assert cultivars.search(second) == []
        with pytest.raises(OperationalError, match="lock timeout"):
            cultivars.search(second, lock=True)
    engine.dispose()
