"""The program of a combination against every combination there is."""

import pytest
from hypothesis import given, settings

from service.facts import replace
from service.market.matching.combination_model import Mix, breaks
from service.market.matching.combination_solving import solve_mix
from tests.market.matching.combination_cases import a_mix, cheapest_by_trying, package_mixes


@given(mix=package_mixes())
@settings(max_examples=50)
def test_the_cheapest_combination_of_packages_is_the_one_that_trying_all_finds(mix: Mix) -> None:
    found = solve_mix(mix, seconds=10)

    cheapest = cheapest_by_trying(mix)
    assert found.is_proven
    assert found.is_possible == (cheapest is not None)
    if found.mass_kg is not None:
        assert breaks(mix, found.mass_kg) == {}
        assert float(mix.cost @ found.mass_kg) == pytest.approx(cheapest)
        assert found.bound == pytest.approx(cheapest, abs=1e-4)


@given(mix=package_mixes())
@settings(max_examples=30)
def test_in_any_mass_a_combination_keeps_every_limit_and_costs_no_more_than_in_packages(mix: Mix) -> None:
    found = solve_mix(replace(mix, packages={}), seconds=10)

    cheapest = cheapest_by_trying(mix)
    if found.mass_kg is not None:
        assert breaks(mix, found.mass_kg) == {}
        assert cheapest is None or float(mix.cost @ found.mass_kg) <= cheapest + 1e-2
    else:
        assert cheapest is None


@given(mix=package_mixes())
@settings(max_examples=30)
def test_with_every_limit_let_go_as_few_give_way_as_can_be(mix: Mix) -> None:
    let_go = solve_mix(mix, seconds=10, let_go=mix.names, fewest=True)

    assert let_go.mass_kg is not None
    broken = breaks(mix, let_go.mass_kg)
    assert (broken == {}) == (cheapest_by_trying(mix) is not None)
    for name in mix.names if len(broken) > 1 else ():
        alone = solve_mix(mix, seconds=10, let_go=[name])
        assert alone.mass_kg is None or not (alone.mass_kg > 0).any()


def test_the_least_that_a_limit_must_give_way_is_found() -> None:
    mix = a_mix([20, 40], [10, 20], alpha=[12.0, 6.0], alpha_min=11.0)

    found = solve_mix(mix, seconds=10, let_go=["alpha_percent_min"])

    assert found.mass_kg is not None
    assert found.mass_kg.tolist() == pytest.approx([20, 10])
    assert breaks(mix, found.mass_kg) == {"alpha_percent_min": pytest.approx(10.0)}
    assert solve_mix(mix, seconds=10).is_possible is False


def test_a_need_that_is_no_whole_number_of_grams_is_met_and_not_missed_by_one() -> None:
    mix = a_mix([20.0, 20.0, 20.0], [10.0, 11.0, 12.0], need_kg=100 / 3, alpha=[5, 6, 7], alpha_min=5.5)

    found = solve_mix(mix, seconds=10)

    assert found.mass_kg is not None
    assert breaks(mix, found.mass_kg) == {}
    assert 100 / 3 - 1e-6 <= found.mass_kg.sum() <= 100 / 3 + 0.001
