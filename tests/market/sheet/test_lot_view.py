"""A lot as it is shown: planting status by country, and the role's mark."""

from datetime import date

import pytest

from service.market.goods.cultivars import CultivarStatus
from service.market.sheet.lot_view import planting_in, view_lot
from tests.factories import TODAY, ListedLotFactory, LotFactory, PartyFactory

FOUND = CultivarStatus(
    cultivar_code="CASCADE",
    country="CA",
    status="public",
    source="register of a country",
    checked_on=date(2026, 5, 1),
)


@pytest.mark.parametrize(
    ("country", "code", "statuses", "expected"),
    [
        ("US", "CASCADE", [], ("public", None)),
        ("CA", "CASCADE", [], ("unconfirmed", None)),
        ("CA", "CASCADE", [FOUND], ("public", date(2026, 5, 1))),
        ("GB", "CASCADE", [FOUND], ("unconfirmed", None)),
        ("US", "WILLAMETTE", [], ("unconfirmed", None)),
        ("US", None, [], ("unconfirmed", None)),
    ],
)
def test_planting_status_is_what_the_region_found_else_what_is_shipped(
    country: str, code: str | None, statuses: list[CultivarStatus], expected: tuple[str, date | None]
) -> None:
    planting = planting_in(country, code, statuses)

    assert (planting.status, planting.checked_on, planting.country) == (*expected, country)


def test_a_view_marks_a_shipped_role_as_common_practice_and_a_told_one_not() -> None:
    grower = PartyFactory(code="ALDER")

    shipped = view_lot(ListedLotFactory(), grower=grower, statuses=[], today=TODAY)
    told = view_lot(ListedLotFactory(role="dual"), grower=grower, statuses=[], today=TODAY)
    unknown = view_lot(LotFactory(cultivar_code=None), grower=grower, statuses=[], today=TODAY)

    assert shipped.role_mark == "common practice, no source"
    assert (told.role_mark, unknown.role_mark) == (None, None)
    assert shipped.figures.alpha_percent is not None
