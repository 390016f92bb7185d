"""What a cultivar is called, and what its name finds."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import InvalidRequest
from service.market.goods.cultivars import RegionalCultivar, codes_of_name, keys_for_search, name_cultivar
from service.reference.cultivars import all_cultivars, ambiguous_names

DWARF = RegionalCultivar(
    code="FRUEHER-ZWERG",
    denomination="Früher Zwerg",
    synonyms=("Valley Dwarf", "Trial 7-b"),
    role="aroma",
    source="Valley trial of 2024",
)


@pytest.mark.parametrize(
    "name", ["Früher Zwerg", "FRUEHER ZWERG", "fruher zwerg", "valley-dwarf", "Trial 7b"]
)
def test_name_cultivar_finds_a_regional_one_by_any_writing_of_any_name(name: str) -> None:
    named = name_cultivar(name, [DWARF])

    assert (named.denomination, named.code, named.key, named.role) == (
        "Früher Zwerg",
        "FRUEHER-ZWERG",
        "FRUEHER-ZWERG",
        "aroma",
    )


def test_name_cultivar_keeps_to_what_ships_before_what_the_region_added() -> None:
    shadow = RegionalCultivar(
        code="C-2", denomination="cascade", synonyms=(), role="bittering", source="a list"
    )

    assert name_cultivar("Cascade", [shadow]).code == "CASCADE"


def test_name_cultivar_refuses_a_name_that_fits_several() -> None:
    with pytest.raises(InvalidRequest) as refusal:
        name_cultivar("Styrian", [])

    assert refusal.value.facts["errors"][0]["pointer"] == "#/cultivar"
    assert "Savinja Golding, Bobek" in refusal.value.detail


@pytest.mark.parametrize("name", ["---", "…", "'"])
def test_name_cultivar_refuses_a_name_without_letters(name: str) -> None:
    with pytest.raises(InvalidRequest, match="letters or digits"):
        name_cultivar(name, [DWARF])


def test_keys_for_search_also_find_lots_that_are_older_than_the_entry() -> None:
    lot_key_before = name_cultivar("Valley Dwarf", []).key

    keys = keys_for_search("Früher Zwerg", [DWARF])

    assert keys[0] == "FRUEHER-ZWERG"
    assert lot_key_before in keys
    assert name_cultivar("Früher Zwerg", []).key in keys


def test_keys_for_search_of_an_ambiguous_name_are_its_candidates() -> None:
    assert keys_for_search("Styrian", [DWARF]) == ("SAVINJA-GOLDING", "BOBEK")


def test_codes_of_name_give_one_for_a_denomination_and_say_nothing_more() -> None:
    assert codes_of_name("mt hood", [DWARF]) == (frozenset({"MT-HOOD"}), ())
    assert codes_of_name("valley dwarf", [DWARF]) == (frozenset({"FRUEHER-ZWERG"}), ())


@pytest.mark.parametrize("vague", ambiguous_names(), ids=lambda vague: vague.name)
def test_codes_of_name_give_every_candidate_of_an_ambiguous_name(vague) -> None:
    codes, cautions = codes_of_name(vague.name, [DWARF])

    by_denomination = {cultivar.denomination: cultivar.code for cultivar in all_cultivars()}
    assert codes == {by_denomination[candidate] for candidate in vague.candidates}
    assert len(cautions) == 1
    assert vague.words in cautions[0]
    assert vague.mark in cautions[0]


def test_codes_of_name_suggest_near_names_shipped_and_regional() -> None:
    assert codes_of_name("Willamete", []) == (
        frozenset(),
        ("No cultivar here goes by the name Willamete. Near names: Willamette.",),
    )
    assert codes_of_name("Valley Dwarv", [DWARF])[1] == (
        "No cultivar here goes by the name Valley Dwarv. Near names: Früher Zwerg.",
    )
    assert codes_of_name("Qqqqqq", [DWARF])[1] == (
        "No cultivar here goes by the name Qqqqqq. No name here is near to it.",
    )


@given(st.text(max_size=80))
def test_codes_of_name_find_something_or_say_why_not(name: str) -> None:
    codes, cautions = codes_of_name(name, [DWARF])

    assert codes or cautions
    assert codes <= {cultivar.code for cultivar in all_cultivars()} | {DWARF.code}
