"""A cultivar as it is shown."""

from datetime import date

import pytest

from service.facts import field_names, replace
from service.market.goods.cultivar_views import (
    TOLD_MARK,
    CultivarView,
    position_of,
    shipped_in_order,
    view_cultivar,
)
from service.market.goods.cultivars import CultivarStatus, RegionalCultivar
from service.market.sheet.lot_view import planting_in
from service.reference.cultivars import Cultivar, Figure, all_cultivars, by_code

DWARF = RegionalCultivar(
    code="VALLEY-DWARF",
    denomination="Valley Dwarf",
    synonyms=("Trial 7",),
    role="dual",
    source="Valley trial of 2024",
    figures=(
        Figure(
            quantity="myrcene_percent_of_oil",
            low=40.0,
            high=40.0,
            unit="% of oil",
            is_single_mean=True,
            basis="us",
            mark=TOLD_MARK,
            source="Brook laboratory",
            note=None,
        ),
    ),
)
FOUND = CultivarStatus(
    cultivar_code="CASCADE",
    country="DE",
    status="unconfirmed",
    source="a letter of the register",
    checked_on=date(2026, 11, 1),
)


def shipped(code: str) -> Cultivar:
    cultivar = by_code(code)
    assert cultivar is not None
    return cultivar


@pytest.mark.parametrize("cultivar", all_cultivars(), ids=lambda cultivar: cultivar.code)
def test_view_cultivar_keeps_everything_that_is_published(cultivar: Cultivar) -> None:
    view = view_cultivar(cultivar)

    same = set(field_names(CultivarView)) & set(field_names(Cultivar))
    assert {name: getattr(view, name) for name in same} == {name: getattr(cultivar, name) for name in same}
    assert len(same) == 18
    assert view.shipped
    assert view.six_month_storage.loss.rows == cultivar.storage_figures
    assert set(view.sources) >= {cultivar.source, *(figure.source for figure in cultivar.figures)}


def test_view_cultivar_marks_what_the_region_told() -> None:
    view = view_cultivar(DWARF, statuses=[replace(FOUND, cultivar_code="VALLEY-DWARF")])

    assert (view.shipped, view.role, view.role_mark, view.mark) == (False, "dual", TOLD_MARK, TOLD_MARK)
    assert (view.aroma_mark, view.origin_country, view.release_year) == (None, None, None)
    assert view.oil_shares_basis == "us"
    assert [known.mark for known in view.availability] == [TOLD_MARK]
    assert view.sources == ("Valley trial of 2024", "Brook laboratory", "a letter of the register")


def test_view_cultivar_without_a_published_storage_figure_stands_on_the_house_default() -> None:
    storage = view_cultivar(DWARF).six_month_storage

    # House figure; assumption, no source.
    assert (storage.loss.lost_percent, storage.loss.low_percent, storage.loss.high_percent) == (33, 10, 60)
    assert storage.loss.is_assumption
    assert storage.assumptions[0].endswith("(assumption, no source)")


def test_view_cultivar_shows_all_storage_rows_of_a_cultivar() -> None:
    loss = view_cultivar(shipped("CASCADE")).six_month_storage.loss

    # USDA-ARS accession 21092 prints 40 % left; the growers' association 48 to 52 %.
    assert loss.lost_percent == 60.0
    assert [row.remaining_percent for row in loss.rows] == [50.0, 40.0]


def test_view_cultivar_sets_what_the_region_found_beside_what_ships_or_before_it() -> None:
    cascade = shipped("CASCADE")
    newer = replace(FOUND, country="US", status="protected")

    beside = view_cultivar(cascade, statuses=[FOUND])
    before = view_cultivar(cascade, statuses=[newer])

    assert [(known.country, known.status) for known in beside.availability] == [
        ("DE", "unconfirmed"),
        ("US", "public"),
    ]
    assert [(known.country, known.status, known.checked_on) for known in before.availability] == [
        ("US", "protected", date(2026, 11, 1))
    ]


@pytest.mark.parametrize("country", ["US", "DE", "CA"])
def test_view_cultivar_says_of_a_country_what_a_lot_grown_there_says(country: str) -> None:
    found = [FOUND, replace(FOUND, country="US", status="protected")]

    view = view_cultivar(shipped("CASCADE"), statuses=found)

    named = {known.country: known.status for known in view.availability}
    assert named.get(country, "unconfirmed") == planting_in(country, "CASCADE", found).status


def test_shipped_public_counts_for_the_united_states_only_and_its_day_is_not_recorded() -> None:
    public = [
        known for c in all_cultivars() for known in view_cultivar(c).availability if known.status == "public"
    ]

    assert {known.country for known in public} == {"US"}
    assert {known.checked_on for known in public} == {None}


def test_shipped_in_order_stands_by_denomination_and_holds_each_once() -> None:
    ordered = shipped_in_order()

    assert [cultivar.denomination for _, cultivar in ordered][:3] == [
        "Bobek",
        "Bramling Cross",
        "Brewer's Gold",
    ]
    assert [place for place, _ in ordered] == sorted({position_of(c) for c in all_cultivars()})


def test_position_of_fits_into_a_cursor_however_long_the_name() -> None:
    # One such sign folds to eighteen letters.
    long = replace(DWARF, denomination="A" + "\ufdfa" * 79)

    assert len(position_of(long)[0]) == 60
