"""Requests that take in turn."""

import numpy as np
import pytest
from hypothesis import given, settings

from service.market.planning.first_come import exchange_in_turn, pack_in_turn, take_in_turn
from service.market.planning.model import Model, violations_of
from tests.market.planning.allocation_cases import a_model, best_by_trying, small_models


@given(model=small_models())
@settings(max_examples=60, deadline=None)
def test_taking_in_turn_breaks_no_limit_and_is_worth_no_more_than_the_best_plan(model: Model) -> None:
    plan = take_in_turn(model, range(model.requests))

    assert violations_of(model, plan) == []
    assert model.worth(plan) <= best_by_trying(model) + 1e-9
    # Somebody takes something as long as any pair may be in whole packages.
    assert (model.worth(plan) > 0) == (best_by_trying(model) > 0) or model.size_kg.any()


@given(model=small_models())
@settings(max_examples=60, deadline=None)
def test_exchanging_in_turn_breaks_no_limit_and_never_loses(model: Model) -> None:
    last_first = take_in_turn(model, range(model.requests)[::-1])

    plan = exchange_in_turn(model, last_first, range(model.requests))

    assert violations_of(model, plan) == []
    assert model.worth(plan) >= model.worth(last_first)


@given(model=small_models())
@settings(max_examples=60, deadline=None)
def test_packing_gives_no_more_than_was_asked_for(model: Model) -> None:
    asked = np.minimum(model.most_kg, 2.5) / np.maximum(1, np.bincount(model.request)[model.request])

    plan = pack_in_turn(model, asked)

    assert (model.parcels_kg(plan) <= asked + 1e-6).all()
    assert [one for one in violations_of(model, plan) if "takes from" not in one] == []


def test_a_request_takes_the_parcel_that_is_worth_most_and_then_fills_up() -> None:
    model = a_model([100], [50, 70, 90], [(0, 0, 1.0), (0, 1, 0.9), (0, 2, 0.5)], lots_max=[2])

    assert take_in_turn(model, [0]).tolist() == [30, 70, 0]


def test_who_comes_later_takes_what_is_left() -> None:
    model = a_model([30, 30], [40], [(0, 0, 0.5), (1, 0, 1.0)])

    assert take_in_turn(model, [0, 1]).tolist() == [30, 10]
    assert take_in_turn(model, [1, 0]).tolist() == [10, 30]


def test_packages_of_several_sizes_are_filled_from_the_largest_and_are_one_lot() -> None:
    model = a_model(
        [57, 57], [40, 20], [(0, 0, 0.5), (1, 0, 0.5)], size_kg=[20, 5], lot_of_goods=[0, 0], lots_max=[1, 1]
    )

    assert take_in_turn(model, [0, 1]).tolist() == [40, 15, 0, 5]


def test_a_parcel_by_weight_is_in_weighing_steps_but_for_a_whole_need_or_lot() -> None:
    model = a_model([37.427, 80.0], [50.0, 12.345], [(0, 0, 0.5), (1, 0, 0.5), (1, 1, 0.4)])

    # The second takes of the 12.573 kg that are left, and all of the small lot.
    assert take_in_turn(model, [0, 1]).tolist() == pytest.approx([37.427, 12.5, 12.345])


def test_a_request_takes_more_of_what_is_left_and_keeps_what_it_has() -> None:
    model = a_model(
        [60, 30], [50, 40, 30], [(0, 0, 0.9), (0, 1, 0.9), (0, 2, 0.2), (1, 2, 0.5)], lots_max=[2, 1]
    )
    split = np.array([20.0, 20.0, 0.0, 0.0])

    plan = exchange_in_turn(model, split, [0, 1])

    # Alone the first would take 50 kg and 10 kg, which is worth as much.
    assert plan.tolist() == [40, 20, 0, 30]


def test_a_request_exchanges_a_lot_that_another_could_not_use() -> None:
    model = a_model([30, 30], [30, 30], [(0, 0, 0.9), (0, 1, 0.8), (1, 0, 0.7)])
    nothing_for_the_first = np.array([0.0, 30.0, 0.0])

    assert exchange_in_turn(model, nothing_for_the_first, [0, 1]).tolist() == [30, 0, 0]
