"""The short-crop rules."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.market.planning.allocations import RULES
from service.market.planning.first_come import take_in_turn
from service.market.planning.model import Model, violations_of
from service.market.planning.rules import Ruled, fair_shares, figures_of, plan_by_rule, steps_for
from service.market.planning.solving import FIRST_COME, SOLVED, Effort
from service.science.arrays import Numbers
from tests.benchmarks.hop_market import hop_market
from tests.market.planning.allocation_cases import a_model, small_models

EFFORT = Effort(clock=lambda: 0.0, until=600.0)


def planned(
    model: Model, rule: str, firmness: list[str] | None = None, *, km: Numbers | None = None
) -> Ruled:
    return plan_by_rule(
        model,
        rule=rule,
        firmness=firmness or ["intent"] * model.requests,
        arrival=range(model.requests),
        distance_km=np.zeros(model.pairs) if km is None else km,
        effort=EFFORT,
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


def test_every_step_of_a_plan_by_firmness_is_proven_and_the_rule_s_cost_is_reported() -> None:
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
        found = planned(model, rule, kinds[: model.requests])

        assert violations_of(model, found.mass_kg) == []
        assert all(step.worth <= step.bound + 1e-9 for _, step in found.steps)


def far_and_good() -> tuple[Model, Numbers]:
    """One far lot of a high score that a large request wants, or two near ones that two small requests come for.

    The need of the large request counts little of its kilograms, so its parcel covers less than the others' do.
    """
    model = a_model(
        [30, 30, 100],
        [60],
        [(0, 0, 0.5), (1, 0, 0.5), (2, 0, 0.6)],
        covers=[1.0, 1.0, 0.5],
    )
    return model, np.array([10.0, 10.0, 500.0])


def test_a_plan_is_never_worse_than_first_come_in_requests_kilograms_and_kilometres_alike() -> None:
    model, km = far_and_good()
    first_come = figures_of(model, take_in_turn(model, [0, 1, 2]), km)
    most_value = np.array([0.0, 0.0, 60.0])
    assert model.worth(most_value) > model.worth(take_in_turn(model, [0, 1, 2]))
    assert figures_of(model, most_value, km).is_worse_in_all(first_come)

    found = planned(model, "largest_value", km=km)

    assert not figures_of(model, found.mass_kg, km).is_worse_in_all(first_come)
    assert found.mass_kg.tolist() == [30, 30, 0]
    assert found.steps[0][1].method == f"{SOLVED}, kilograms counting more"
    (_, proof) = found.steps[0]
    assert (proof.worth, proof.bound, proof.is_optimal) == (pytest.approx(30), pytest.approx(36), False)


@given(model=small_models(), km=st.lists(st.integers(1, 500), min_size=9, max_size=9))
@settings(max_examples=40, deadline=None)
def test_no_plan_of_the_largest_value_is_worse_than_first_come_in_all_figures(
    model: Model, km: list[int]
) -> None:
    away = np.array(km[: model.pairs], dtype=float)

    found = planned(model, "largest_value", km=away)

    first_come = figures_of(model, take_in_turn(model, range(model.requests)), away)
    assert not figures_of(model, found.mass_kg, away).is_worse_in_all(first_come)
    assert violations_of(model, found.mass_kg) == []


def test_first_come_is_a_plan_of_its_own_rule_and_says_how_it_was_found() -> None:
    found = planned(two_for_one_lot(), "arrival")

    assert [(name, step.method) for name, step in found.steps] == [
        ("all requests, against any plan under no rule", FIRST_COME)
    ]


def test_shares_are_even_where_lots_are_shared_and_rise_where_they_are_not() -> None:
    # Two share a lot of 60 kg with needs of 30 and 90; a third has a lot of its own that suffices, a fourth one
    # that holds half, a fifth none.
    model = a_model(
        [30, 90, 40, 40, 10],
        [60, 100, 20],
        [(0, 0, 0.5), (1, 0, 0.8), (2, 1, 0.1), (3, 2, 0.9)],
    )

    shares = fair_shares(model, seconds=60)

    assert shares is not None
    assert shares.tolist() == pytest.approx([0.5, 0.5, 1.0, 0.5, 0.0], abs=0.01)


def test_a_request_of_few_lots_has_the_share_that_these_can_give() -> None:
    model = a_model([100], [20, 20, 20, 20], [(0, lot, 0.5) for lot in range(4)], lots_max=[2])

    shares = fair_shares(model, seconds=60)

    assert shares is not None
    assert shares.tolist() == pytest.approx([0.4])


@given(model=small_models())
@settings(max_examples=20, deadline=None)
def test_shares_together_take_no_more_than_there_is(model: Model) -> None:
    shares = fair_shares(model, seconds=60)

    assert shares is not None
    assert ((shares >= 0) & (shares <= 1)).all()
    assert (shares * model.need_kg).sum() <= model.stock_kg.sum() + 1e-6
    reached = np.unique(model.request)
    assert (shares[np.setdiff1d(np.arange(len(shares)), reached)] == 0).all()


def test_shares_that_cannot_be_found_in_time_are_not_made_up() -> None:
    model = hop_market(requests=120, lots=200, suits=12)
    assert fair_shares(model, seconds=0.0) is None

    found = plan_by_rule(
        model,
        rule="pro_rata",
        firmness=["intent"] * model.requests,
        arrival=range(model.requests),
        distance_km=np.zeros(model.pairs),
        effort=Effort(clock=lambda: 1.0, until=1.0),
    )

    assert found.steps[0][0] == "all requests; the time did not suffice to find the shares"
    assert all(step.is_cut for _, step in found.steps)


def test_steps_are_finer_for_few() -> None:
    assert [steps_for(n) for n in (0, 15, 400, 2000, 9000)] == [200, 200, 100, 20, 20]
