"""The short-crop rules."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.market.planning.allocation_model import Model, faults_of
from service.market.planning.allocation_rules import Ruled, narrowed, plan_by_rule
from service.market.planning.allocation_solving import Effort
from service.market.planning.allocations import RULES
from tests.market.planning.allocation_cases import a_model, small_models

EFFORT = Effort(clock=lambda: 0.0, until=600.0, rounds=3, price_rounds=60)


def planned(model: Model, rule: str, firmness: list[str] | None = None) -> Ruled:
    count = len(model.need_kg)
    return plan_by_rule(
        model, rule=rule, firmness=firmness or ["intent"] * count, arrival=range(count), effort=EFFORT
    )


def two_for_one_lot() -> Model:
    """30 kg and 90 kg wanted of 60 kg; the second values it more."""
    return a_model([30, 90], [60], [(0, 0, 0.5), (1, 0, 0.8)])


@pytest.mark.parametrize(
    ("rule", "masses"),
    [
        ("largest_value", [0, 60]),
        ("firmness", [30, 30]),
        ("arrival", [30, 30]),
        ("pro_rata", [15, 45]),
    ],
)
def test_each_rule_shares_a_short_crop_in_its_own_way(rule: str, masses: list[float]) -> None:
    found = planned(two_for_one_lot(), rule, ["firm", "interest"])

    assert found.mass_kg.tolist() == pytest.approx(masses)


def test_every_step_of_a_plan_by_firmness_is_proven_and_the_rule_s_cost_is_told() -> None:
    found = planned(two_for_one_lot(), "firmness", ["firm", "interest"])

    names = [name for name, _ in found.steps]
    assert names[:2] == [
        "firm requests, of what those before left",
        "interest requests, of what those before left",
    ]
    assert all(solution.is_optimal for _, solution in found.steps[:2])
    assert (found.steps[-1][1].worth, found.steps[-1][1].bound) == (pytest.approx(39), pytest.approx(48))


@given(model=small_models(), kinds=st.lists(st.sampled_from(["interest", "intent", "firm"]), min_size=3))
@settings(max_examples=25, deadline=None)
def test_no_rule_breaks_a_limit_or_exceeds_its_bound(model: Model, kinds: list[str]) -> None:
    for rule in RULES:
        found = planned(model, rule, kinds[: len(model.need_kg)])

        assert faults_of(model, found.mass_kg) == []
        assert all(step.worth <= step.bound + 1e-9 for _, step in found.steps)


def test_narrowed_keeps_the_place_of_each_pair() -> None:
    model = a_model([30, 90], [60, 5], [(0, 0, 0.5), (1, 0, 0.8), (1, 1, 0.9)], least_kg=10)

    part = narrowed(model, among=np.array([False, True]), stock_kg=np.array([20.0, 5.0]))

    assert (part.origin.tolist(), part.most_kg.tolist()) == ([1], [20])
