"""Every method says what its record says: one record a method, and nothing cited that is not in it."""

import pytest

from service.market.brewing.alpha_in_use import half_widths_of, words_of
from service.market.brewing.base_methods import BASE_METHODS, BREWHOUSE, METHODS
from service.market.brewing.bitterness import brew_bitterness
from service.market.brewing.brews import Brew
from service.market.brewing.calibrations import UtilizationFit, brewhouse_method
from service.market.brewing.methods import ALWAYS, Method, needs_of
from service.reference.assumptions import all_assumptions, get_assumption
from tests.market.brewing.brew_cases import a_brew, a_fit, an_addition

PLACES = {
    "boil": {},
    "first_wort": {},
    "whirlpool": {"minutes": 20.0, "temperature_c": 90.0},
    "mash": {},
    "dry_hop": {},
}
CASES = [
    *((place, {"at": place, **told}, {}) for place, told in PLACES.items()),
    ("wet hops", {"form": "wet_hop"}, {}),
    ("elevation", {}, {"elevation_m": 1500.0}),
]
# Words of alpha are the alpha's own; the cases give none.
MODEL_ROWS = {words_of(row): row for row in all_assumptions()}


def methods() -> list[Method]:
    own = [
        brewhouse_method(UtilizationFit(brewery_code="FINCH", fit=a_fit(base_model=base), brews=()))
        for base in BASE_METHODS
    ]
    return [*BASE_METHODS.values(), *own]


def a_case(addition: dict[str, object], wort: dict[str, object]) -> Brew:
    return a_brew(an_addition(**addition), **wort)


def named(method: Method, brew: Brew) -> set[str]:
    """The rows that a record names for what a brew needs."""
    hot = brew.additions[0].at not in ("mash", "dry_hop")
    ratios = {name for need in needs_of(brew) for name in method.ratios_by_need.get(need, ())}
    others = {name for need in needs_of(brew) for name in method.rows_by_need.get(need, ())}
    return others | (ratios if hot else set())


def test_there_is_one_record_for_each_method_that_may_be_asked_for() -> None:
    assert {method.code for method in methods()} == set(METHODS) == {*BASE_METHODS, BREWHOUSE}


@pytest.mark.parametrize(("addition", "wort"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
@pytest.mark.parametrize("method", methods(), ids=lambda method: f"{method.code}-{method.base_model}")
def test_an_answer_cites_what_its_record_names(
    method: Method, addition: dict[str, object], wort: dict[str, object]
) -> None:
    brew = a_case(addition, wort)
    found = brew_bitterness(brew, method=method, alpha_basis="estimated")

    rows = {MODEL_ROWS[words].name for words in found.assumptions if words in MODEL_ROWS}
    own = {source for need in needs_of(brew) for source in method.sources_by_need.get(need, ())}
    sourced = {row.source for row in map(get_assumption, rows) if row.mark != "assumption, no source"}
    of_taste = {source for source in found.sources if source.startswith("Hahn")}

    assert rows == named(method, brew)
    assert set(found.sources) - of_taste == own | sourced
    assert bool(of_taste) == (addition.get("at") == "dry_hop")
    assert found.method == method.code


@pytest.mark.parametrize("method", methods(), ids=lambda method: f"{method.code}-{method.base_model}")
def test_no_method_cites_the_papers_of_another(method: Method) -> None:
    brew = a_brew(*(an_addition(at=place, **told) for place, told in PLACES.items()))
    found = brew_bitterness(brew, method=method, alpha_basis="estimated")

    others = {
        source
        for other in BASE_METHODS.values()
        if other.code != method.base_model
        for source in other.sources_by_need[ALWAYS]
        if source not in {one for sources in method.sources_by_need.values() for one in sources}
    }

    assert not others & set(found.sources)


@pytest.mark.parametrize("method", methods(), ids=lambda method: f"{method.code}-{method.base_model}")
def test_the_scatter_is_that_of_the_rows_named(method: Method) -> None:
    for _, addition, wort in CASES:
        brew = a_case(addition, wort)
        (result,) = brew_bitterness(brew, method=method, alpha_basis="estimated").additions
        scatter = {} if result.spread is None else result.spread.model_by_source

        for name in named(method, brew):
            if name in scatter:
                assert scatter[name] == half_widths_of(get_assumption(name))
        ratios = {name for need in needs_of(brew) for name in method.ratios_by_need.get(need, ())}
        assert result.spread is None or ratios <= set(scatter)


def test_every_assumption_of_a_record_is_in_the_table() -> None:
    for method in methods():
        for names in (*method.ratios_by_need.values(), *method.rows_by_need.values()):
            assert all(get_assumption(name) for name in names)
