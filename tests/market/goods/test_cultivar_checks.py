"""What may enter the region's books of cultivars."""

import re
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import AlreadyExists, InvalidRequest, NotAllowed
from service.facts import replace
from service.market.goods.cultivar_checks import (
    UNITS,
    accept_cultivar,
    accept_statuses,
    code_for,
    decide_shipped_change,
)
from service.market.goods.cultivars import CultivarStatus, RegionalCultivar, name_cultivar
from service.reference.cultivars import Figure, all_cultivars, ambiguous_names
from service.reference.names import folds

TODAY = date(2026, 11, 25)
CODE = re.compile(r"[A-Z0-9](?:[A-Z0-9-]{0,22}[A-Z0-9])?")


def a_cultivar(**told: Any) -> RegionalCultivar:
    return RegionalCultivar(
        **{
            "code": "",
            "denomination": "Valley Dwarf",
            "synonyms": (),
            "role": "aroma",
            "source": "Valley trial of 2024",
            **told,
        }
    )


def a_figure(quantity: str = "alpha_percent", low: float = 5.0, high: float = 7.0, **told: Any) -> Figure:
    return Figure(
        **{
            "quantity": quantity,
            "low": low,
            "high": high,
            "unit": UNITS[quantity],
            "is_single_mean": False,
            "basis": None,
            "mark": "told by the specialist",
            "source": "Valley trial of 2024",
            "note": None,
            **told,
        }
    )


def a_status(**told: Any) -> CultivarStatus:
    return CultivarStatus(
        **{
            "cultivar_code": "VALLEY-DWARF",
            "country": "CA",
            "status": "public",
            "source": "the breeder",
            "checked_on": date(2026, 11, 1),
            **told,
        }
    )


def faults(cultivar: RegionalCultivar, *statuses: CultivarStatus) -> list[str]:
    with pytest.raises(InvalidRequest) as refusal:
        accept_cultivar(cultivar, regional=[], statuses=statuses, today=TODAY)
    errors: Any = refusal.value.facts["errors"]
    return [error["pointer"] for error in errors]


def test_accept_cultivar_gives_a_code_made_of_the_denomination() -> None:
    accepted = accept_cultivar(a_cultivar(), regional=[], statuses=[a_status()], today=TODAY)

    assert accepted == a_cultivar(code="VALLEY-DWARF")


def test_accept_cultivar_keeps_a_code_that_was_given_before() -> None:
    before = a_cultivar(code="VALLEY-DWARF")
    renamed = replace(before, denomination="Valley Giant", synonyms=("Valley Dwarf",))

    assert accept_cultivar(renamed, regional=[before], today=TODAY) == renamed


def test_accept_cultivar_names_every_fault_at_once() -> None:
    wrong = a_cultivar(
        denomination="ホップ",
        synonyms=("Own", "OWN", "...", "two\nlines"),
        figures=(
            a_figure(low=9.0, high=7.0),
            a_figure(),
            a_figure("oil_ml_per_100g", 1.0, 21.0, unit="%"),
            a_figure("beta_percent", 3.0, 4.0, basis="us"),
        ),
    )

    found = faults(wrong, a_status(), a_status(checked_on=date(2026, 11, 27)))

    assert found == [
        "#/denomination",
        "#/synonyms/1",
        "#/synonyms/2",
        "#/synonyms/3",
        "#/figures/0/low",
        "#/figures/1/quantity",
        "#/figures/2/unit",
        "#/figures/2/high",
        "#/figures/3/basis",
        "#/availability/1/country",
        "#/availability/1/checked_on",
    ]


def test_accept_cultivar_refuses_parts_that_come_to_more_than_the_whole() -> None:
    acids = (a_figure(low=60.0, high=70.0), a_figure("beta_percent", 41.0, 50.0))
    oils = (
        a_figure("myrcene_percent_of_oil", 60.0, 70.0),
        a_figure("humulene_percent_of_oil", 40.5, 41.0),
    )

    assert faults(a_cultivar(figures=acids)) == ["#/figures"]
    assert faults(a_cultivar(figures=oils)) == ["#/figures"]


def test_accept_cultivar_lets_upper_ends_come_to_more_than_the_whole() -> None:
    oils = (
        a_figure("myrcene_percent_of_oil", 40.0, 70.0),
        a_figure("humulene_percent_of_oil", 20.0, 41.0),
    )

    assert accept_cultivar(a_cultivar(figures=oils), regional=[], today=TODAY).figures == oils


def test_accept_cultivar_refuses_shares_on_two_bases() -> None:
    oils = (
        a_figure("myrcene_percent_of_oil", 20.0, 25.0, basis="european"),
        a_figure("humulene_percent_of_oil", 20.0, 25.0, basis="us"),
    )

    assert faults(a_cultivar(figures=oils)) == ["#/figures"]


@pytest.mark.parametrize("cultivar", all_cultivars(), ids=lambda cultivar: cultivar.code)
def test_accept_cultivar_refuses_every_name_that_ships(cultivar) -> None:
    for name in (cultivar.denomination, *cultivar.synonyms):
        with pytest.raises(AlreadyExists) as refusal:
            accept_cultivar(a_cultivar(synonyms=(name.upper(),)), regional=[], today=TODAY)

        assert refusal.value.facts["known"] == [
            {"pointer": "#/synonyms/0", "name": name.upper(), "cultivar_codes": [cultivar.code]}
        ]


@pytest.mark.parametrize("vague", ambiguous_names(), ids=lambda vague: vague.name)
def test_accept_cultivar_refuses_a_name_that_already_fits_several(vague) -> None:
    with pytest.raises(AlreadyExists, match=f"{vague.name} may already be {vague.candidates[0]}"):
        accept_cultivar(a_cultivar(denomination=vague.name), regional=[], today=TODAY)


def test_accept_cultivar_refuses_the_name_of_another_regional_one_and_names_all() -> None:
    other = a_cultivar(code="OTHER", denomination="Other", synonyms=("Brook Seedling",))

    with pytest.raises(AlreadyExists) as refusal:
        accept_cultivar(
            a_cultivar(denomination="Brook-Seedling", synonyms=("Fuggle",)), regional=[other], today=TODAY
        )

    assert refusal.value.detail == "Brook-Seedling is a name of OTHER; Fuggle is a name of FUGGLE"


def test_accept_cultivar_numbers_a_code_that_two_long_denominations_would_share() -> None:
    first = accept_cultivar(
        a_cultivar(denomination="Upper Alder Brook Valley Dwarf"), regional=[], today=TODAY
    )
    second = accept_cultivar(
        a_cultivar(denomination="Upper Alder Brook Valley Giant"), regional=[first], today=TODAY
    )

    assert (first.code, second.code) == ("UPPER-ALDER-BROOK-VALLEY", "UPPER-ALDER-BROOK-VALL-2")


@pytest.mark.parametrize(
    ("denomination", "code"),
    [
        ("Brewer's Best", "BREWERS-BEST"),
        ("Žatecký raný", "ZATECKY-RANY"),
        ("Früher Große", "FRUEHER-GROSSE"),
        ("Puławski", "PULAWSKI"),
        ("W415-90/b", "W415-90-B"),
        ("  Twice  spaced  ", "TWICE-SPACED"),
        ("ホップ", ""),
        ("", ""),
    ],
)
def test_code_for_writes_what_every_database_and_address_takes(denomination: str, code: str) -> None:
    assert code_for(denomination, ()) == code


@given(st.text(max_size=80), st.integers(0, 12))
def test_code_for_is_a_code_and_never_one_that_is_taken(rest: str, before: int) -> None:
    denomination, taken = f"{rest}7", set[str]()
    for _ in range(before):
        taken.add(code_for(denomination, taken))

    code = code_for(denomination, taken)

    assert CODE.fullmatch(code)
    assert code not in taken
    assert len(taken) == before


NAMES = st.text(st.characters(min_codepoint=32, max_codepoint=0x17F), min_size=1, max_size=40)


@given(NAMES, st.lists(NAMES, max_size=3))
def test_what_accept_cultivar_lets_in_is_found_by_each_of_its_names(
    denomination: str, synonyms: list[str]
) -> None:
    names = (f"Dwarf {denomination}", *synonyms)
    keys = [set(folds(name)) - {""} for name in names]
    is_fit = all(keys) and len(set().union(*keys)) == sum(map(len, keys))
    try:
        added = accept_cultivar(
            a_cultivar(denomination=names[0], synonyms=tuple(synonyms)), regional=[], today=TODAY
        )
    except InvalidRequest:
        added = None

    assert (added is not None) == (is_fit and all(map(str.isprintable, names)))
    assert added is None or {name_cultivar(name, [added]).code for name in names} == {added.code}


def test_accept_statuses_takes_a_day_that_has_begun_somewhere() -> None:
    accept_statuses([a_status(checked_on=date(2026, 11, 26)), a_status(country="DE")], today=TODAY)

    with pytest.raises(InvalidRequest, match="2026-11-27 is in the future"):
        accept_statuses([a_status(checked_on=date(2026, 11, 27))], today=TODAY)


def test_decide_shipped_change_lets_only_the_availability_change() -> None:
    decide_shipped_change("CASCADE", {"availability"})

    with pytest.raises(NotAllowed) as refusal:
        decide_shipped_change("CASCADE", {"availability", "role", "figures"})

    assert refusal.value.facts == {"fields": ["figures", "role"]}


def test_the_units_are_those_of_the_shipped_books() -> None:
    shipped = {(figure.quantity, figure.unit) for cultivar in all_cultivars() for figure in cultivar.figures}

    assert shipped == set(UNITS.items())
