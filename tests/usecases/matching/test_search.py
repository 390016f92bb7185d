"""A search over real records: what it finds, in which order, and what its reader should know."""

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.errors import InvalidRequest
from service.market.people.access import ANYONE, Caller
from service.records.goods import lots
from service.records.people import parties
from service.usecases.matching.search import search_lots
from tests.factories import NOW, LabReportFactory, ListedLotFactory, PartyFactory

FINCH = Caller("brewery", "FINCH")


@pytest.fixture(autouse=True)
def region(session: Session) -> None:
    """Three lots: two measured by chromatography, one by spectrophotometry."""
    parties.add(session, PartyFactory(code="ALDER"))
    for number, (cultivar, alpha_percent, method) in enumerate(
        [
            ("Willamette", 5.4, "asbc_hops_14"),
            ("Saazer", 3.2, "asbc_hops_6"),
            ("Sterling", 4.0, "asbc_hops_14"),
        ],
        start=1,
    ):
        report = LabReportFactory(code="R1", alpha_percent=alpha_percent, methods={"alpha_beta": method})
        lot = ListedLotFactory(
            code=f"ALDER-2026-0{number}",
            cultivar=cultivar,
            cultivar_code=cultivar.upper(),
            reports=(report,),
            price_per_kg=Decimal(20 + number),
            currency="CAD",
        )
        lots.add(session, lot, cultivar_key=cultivar.upper())
        lots.change(session, lot)


def search(session: Session, caller: Caller = ANYONE, *, limit: int = 9, **asked: Any) -> Any:
    return search_lots(session, caller=caller, asked=asked, now=NOW, after=None, limit=limit)


def numbers(session: Session, caller: Caller = ANYONE, **asked: Any) -> list[int]:
    lines, _ = search(session, caller, **asked)
    return [int(line.code[-2:]) for line, _ in lines]


def test_a_cultivar_is_found_by_any_of_its_names(session: Session) -> None:
    assert numbers(session, cultivar="saaz") == numbers(session, cultivar="Saazer") == [2]
    assert numbers(session, cultivar="Own Seedling 7") == []
    assert numbers(session) == [1, 2, 3]


def test_a_name_without_a_letter_is_refused_as_a_parameter(session: Session) -> None:
    with pytest.raises(InvalidRequest) as refused:
        search(session, cultivar="--")

    assert refused.value.facts["errors"][0]["parameter"] == "cultivar"  # type: ignore[index]


def test_an_order_by_alpha_over_two_methods_says_so(session: Session) -> None:
    assert numbers(session, sort="-alpha") == [1, 3, 2]
    lines, cautions = search(session, sort="-alpha")
    assert len(lines) == 3
    assert len(cautions) == 1
    assert "asbc_hops_14, asbc_hops_6" in cautions[0]


@pytest.mark.parametrize(
    "asked",
    [
        {"sort": "-alpha", "method": "asbc_hops_14"},
        {"sort": "alpha", "alpha_percent_min": 3.5},
        {"sort": "-harvested"},
        {},
    ],
    ids=str,
)
def test_an_order_over_one_scale_needs_no_caution(session: Session, asked: dict[str, Any]) -> None:
    assert search(session, **asked)[1] == ()


def test_pages_go_on_where_the_last_one_ended(session: Session) -> None:
    first, _ = search(session, sort="alpha", limit=2)
    rest, _ = search_lots(
        session, caller=ANYONE, asked={"sort": "alpha"}, now=NOW, after=first[-1][1], limit=2
    )

    assert [line.code[-1] for line, _ in (*first, *rest)] == ["2", "3", "1"]


def test_a_hidden_price_neither_shows_nor_sorts_nor_limits(session: Session) -> None:
    asked: dict[str, Any] = {"currency": "CAD", "price_per_kg_max": Decimal("21.5")}

    assert numbers(session, FINCH, **asked) == [1]
    assert numbers(session, **asked) == [1, 2, 3]
    assert numbers(session, FINCH, sort="-price", currency="CAD") == [3, 2, 1]
    assert numbers(session, sort="-price", currency="CAD") == [1, 2, 3]
    assert {line.price_per_kg for line, _ in search(session)[0]} == {None}
