"""Orders of the search straight from the database: ties and missing figures, over pages of every size."""

from datetime import date, timedelta
from decimal import Decimal
from math import log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from service.errors import InvalidRequest
from service.market.matching.search import SORTS, LotWish
from service.market.people.parties import unit_vector
from service.records.matching import lot_lines
from tests.factories import NOW, TODAY, LotRowFactory, PartyRowFactory

NEAR = unit_vector(latitude_deg=0.0, longitude_deg=0.0)
LOTS = 12


@pytest.fixture
def tied(session: Session) -> Session:
    """Lots in which every figure stands twice or more, and every figure that may be missing is."""
    places = [unit_vector(latitude_deg=0.0, longitude_deg=longitude) for longitude in (0.0, 1.0, 1.0)]
    growers = [PartyRowFactory(unit_x=x, unit_y=y, unit_z=z) for x, y, z in places]
    for number in range(LOTS):
        LotRowFactory(
            grower_id=growers[number % 3].id,
            harvested_on=None if number % 4 == 3 else date(2026, 9, 1 + number % 2),
            search_day=None if number % 5 == 4 else TODAY.toordinal(),
            search_log_alpha=None if number % 5 == 4 else log(5.0 + number % 2),
            search_alpha_sd_log=None if number % 5 == 4 else 0.03,
            search_rate_per_day=None if number % 5 == 4 else 0.001,
            search_alpha_method=None if number % 5 == 4 else ("asbc_hops_6", "ebc_7_7")[number % 2],
            price_per_kg=None if number % 6 == 5 else Decimal(20 + number % 2),
            currency=None if number % 6 == 5 else ("CAD", "CAD", "EUR")[number % 3],
            price_open=number % 4 != 0,
        )
    return session


def wish(sort: str, **told: object) -> LotWish:
    return LotWish(on=TODAY, sort=sort, near=NEAR, currency="CAD" if "price" in sort else None, **told)  # type: ignore[arg-type]  # a test's plain words


def paged(session: Session, asked: LotWish, limit: int) -> list[tuple[float | str | None, int]]:
    """The positions of all lines, page after page."""
    found: list[tuple[float | str | None, int]] = []
    while True:
        after = found[-1] if found else None
        page = lot_lines.search(session, asked, now=NOW, after=after, limit=limit)
        found += [position for _, position in page]
        if len(page) < limit:
            return found


@pytest.mark.parametrize("sort", SORTS)
@pytest.mark.parametrize("sees_all_prices", [False, True], ids=["stranger", "token"])
@settings(max_examples=8)
@given(limit=st.integers(1, LOTS + 1))
def test_every_row_stands_once_in_one_order_whatever_the_page(
    tied: Session, sort: str, sees_all_prices: bool, limit: int
) -> None:
    asked = wish(sort, sees_all_prices=sees_all_prices)
    whole = [position for _, position in lot_lines.search(tied, asked, now=NOW, after=None, limit=100)]

    assert paged(tied, asked, limit) == whole
    assert len({row for _, row in whole}) == len(whole) > 5


@pytest.mark.parametrize("sort", SORTS)
def test_what_is_missing_stands_last_and_ties_stand_in_the_order_of_making(tied: Session, sort: str) -> None:
    found = paged(tied, wish(sort), 5)
    known = [(key if isinstance(key, float) else str(key), row) for key, row in found if key is not None]
    missing = [row for key, row in found if key is None]
    keys = sorted({key for key, _ in known}, key=str, reverse=sort.startswith("-"))

    assert found[len(known) :] == [(None, row) for row in sorted(missing)]
    assert known == [pair for key in keys for pair in sorted(p for p in known if p[0] == key)]
    assert len(keys) < len(known)
    assert bool(missing) is (sort.lstrip("-") != "distance")


def test_a_closed_price_is_neither_shown_nor_felt_in_the_order(tied: Session) -> None:
    def prices(sees_all_prices: bool) -> list[Decimal | None]:
        asked = wish("price", sees_all_prices=sees_all_prices)
        lines = lot_lines.search(tied, asked, now=NOW, after=None, limit=100)
        return [line.price_per_kg for line, _ in lines]

    # Closed are numbers 0, 4 and 8; in EUR are 2 and 8; 5 and 11 have no price. Only a price that is seen in
    # another currency keeps a lot out, so a stranger finds 8 by agreement.
    assert prices(False) == [*[Decimal(20)] * 2, *[Decimal(21)] * 4, *[None] * 5]
    assert prices(True) == [*[Decimal(20)] * 4, *[Decimal(21)] * 4, *[None] * 2]


def test_alpha_falls_by_the_day_that_is_asked_for(tied: Session) -> None:
    def best(days: int) -> float:
        asked = LotWish(on=TODAY + timedelta(days=days), sort="-alpha")
        (line, _), *_ = lot_lines.search(tied, asked, now=NOW, after=None, limit=1)
        assert line.alpha_percent is not None
        return line.alpha_percent.estimate

    assert best(0) == pytest.approx(6.0, rel=1e-12)
    # exp(-0.001 / day · 100 days) of 6 % remains, by the rate that the fixture sets.
    assert best(100) == pytest.approx(6.0 * 0.904837418, rel=1e-8)


def test_methods_of_the_found_lots_are_named_once(tied: Session) -> None:
    assert lot_lines.search_methods(tied, wish("alpha"), now=NOW) == ["asbc_hops_6", "ebc_7_7"]
    assert lot_lines.search_methods(tied, wish("alpha", method="ebc_7_7"), now=NOW) == ["ebc_7_7"]
    assert lot_lines.search_methods(tied, wish("alpha", form="pellet"), now=NOW) == []


@pytest.mark.parametrize(
    ("sort", "position"),
    [
        ("alpha", (1.5, "7")),
        ("alpha", ("high", 7)),
        ("distance", ("near", 7)),
        ("harvested", ("2026-13-01", 7)),
        ("price", ("dear", 7)),
        ("price", ("-1", 7)),
        ("price", ("1.00001", 7)),
        ("price", ("100000000", 7)),
        ("price", ("NaN", 7)),
    ],
)
def test_a_position_that_no_order_gave_is_refused(
    session: Session, sort: str, position: tuple[str | float, int]
) -> None:
    with pytest.raises(InvalidRequest) as refusal:
        lot_lines.search(session, wish(sort), now=NOW, after=position, limit=5)

    assert refusal.value.facts["errors"] == [
        {"parameter": "cursor", "detail": "Not a cursor of this list under this query."}
    ]
