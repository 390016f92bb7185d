"""The mixed-integer program against every plan there is."""

import numpy as np
import pytest
from hypothesis import given, settings

from service.market.planning.allocation_exact import solve_pairs
from service.market.planning.allocation_model import Model, faults_of
from tests.market.planning.allocation_cases import a_model, best_by_trying, small_models


@given(model=small_models())
@settings(max_examples=40, deadline=None)
def test_solve_pairs_finds_what_trying_every_plan_finds(model: Model) -> None:
    found = solve_pairs(model, np.arange(model.pairs), free_kg=model.stock_kg, seconds=10)

    assert found is not None
    assert found.is_optimal
    assert faults_of(model, found.mass_kg) == []
    best = best_by_trying(model)
    assert model.worth(found.mass_kg) == pytest.approx(best, abs=1e-6)
    assert found.bound == pytest.approx(best, abs=1e-5)


def test_solve_pairs_takes_only_what_is_free() -> None:
    model = a_model([50, 50], [100], [(0, 0, 0.5), (1, 0, 0.9)], least_kg=20)

    found = solve_pairs(model, np.array([0]), free_kg=np.array([30.0]), seconds=10)

    assert found is not None
    assert found.mass_kg.tolist() == [30]


def test_solve_pairs_gives_nothing_where_too_little_is_free_for_the_least_parcel() -> None:
    model = a_model([50], [100], [(0, 0, 0.5)], least_kg=20)

    found = solve_pairs(model, np.array([0]), free_kg=np.array([19.9]), seconds=10)

    assert found is not None
    assert found.mass_kg.tolist() == [0]
