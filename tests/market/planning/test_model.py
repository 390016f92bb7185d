"""The columns of a plan, and what a plan may not break."""

import numpy as np
import pytest
from hypothesis import given, settings

from service.market.planning.first_come import take_in_turn
from service.market.planning.model import Model, narrowed, violations_of, widened
from tests.market.planning.allocation_cases import a_model, small_models


def test_make_model_leaves_out_pairs_that_cannot_give_their_least() -> None:
    model = a_model([10, 3], [20, 4], [(1, 0, 0.5), (0, 1, 0.9), (0, 0, 0.7)], least_kg=5)

    assert [model.request.tolist(), model.lot.tolist(), model.origin.tolist()] == [[0], [0], [2]]
    assert model.most_kg.tolist() == [10]


def test_make_model_counts_whole_packages_between_least_and_most() -> None:
    model = a_model([50], [60], [(0, 0, 1.0)], size_kg=[20], least_kg=15)

    assert (model.least_kg.tolist(), model.most_kg.tolist()) == ([20], [40])


def test_make_model_leaves_out_lots_that_are_worth_nothing_and_requests_that_may_take_no_lot() -> None:
    model = a_model([10, 10], [20], [(0, 0, 0.0), (1, 0, 1.0)], lots_max=[3, 0])

    assert model.pairs == 0


def test_a_pair_has_a_part_for_each_size_of_package_the_largest_first() -> None:
    model = a_model(
        [50, 50],
        [10, 9, 40],
        [(0, 1, 0.5), (1, 0, 0.7), (0, 0, 0.7)],
        size_kg=[5, 0, 20],
        lot_of_goods=[0, 1, 0],
    )

    assert [model.request.tolist(), model.lot.tolist()] == [[0, 0, 1], [1, 0, 0]]
    assert [model.pair.tolist(), model.goods.tolist()] == [[0, 1, 1, 2, 2], [1, 2, 0, 2, 0]]
    assert model.lot_kg.tolist() == [50, 9]


def test_a_lot_rich_in_alpha_covers_more_need_than_it_weighs() -> None:
    model = a_model([30], [100], [(0, 0, 1.0)], covers=[1.5], least_kg=1)

    assert model.most_kg.tolist() == [20]
    assert model.covered_kg(np.array([20.0])).tolist() == [30]


def test_a_need_counted_in_another_lots_kilograms_is_met_in_weighing_steps() -> None:
    model = a_model(
        [30, 30, 3], [100, 17.123], [(0, 0, 1.0), (1, 1, 1.0), (2, 0, 1.0)], covers=[0.7, 0.7, 0.7]
    )

    # 30 / 0.7 = 42.857 kg; the whole small lot; and a need of so few steps that one would be missed.
    assert model.most_kg.tolist() == [42.8, 17.123, 4.285]


def test_no_parcel_sold_by_weight_is_under_a_weighing_step_unless_the_need_is() -> None:
    model = a_model([10, 0.05], [20], [(0, 0, 1.0), (1, 0, 1.0)])

    assert model.least_kg.tolist() == [0.1, 0.05]


@pytest.mark.parametrize(
    ("mass_kg", "words"),
    [
        ([2.0, 0.0, 0.0], "under the least parcel"),
        ([11.0, 0.0, 0.0], "over the most"),
        ([5.0005, 0.0, 0.0], "no whole number of grams"),
        ([-5.0, 0.0, 8.0], "no whole number of grams"),
        ([0.0, 7.0, 0.0], "no whole number of packages"),
        ([8.0, 0.0, 5.0], "lot 0 gives 13.0 kg of the 12.0 kg"),
        ([8.0, 10.0, 0.0], "request 0 gets 18.0 kg and needs 10.0 kg"),
        ([4.0, 5.0, 0.0], "request 0 takes from 2 lots, at most 1"),
    ],
)
def test_violations_of_names_what_a_plan_breaks(mass_kg: list[float], words: str) -> None:
    model = a_model(
        [10, 10],
        [12, 40],
        [(0, 0, 1.0), (0, 1, 1.0), (1, 0, 1.0)],
        least_kg=3,
        size_kg=[0.0, 5.0],
        lots_max=[1, 3],
    )

    assert violations_of(model, np.array([4.0, 0.0, 8.0])) == []
    assert words in " ".join(violations_of(model, np.array(mass_kg)))


def test_narrowed_keeps_the_place_of_each_pair() -> None:
    model = a_model([30, 90], [60, 5], [(0, 0, 0.5), (1, 0, 0.8), (1, 1, 0.9)], least_kg=10)

    part = narrowed(model, among=np.array([False, True]), stock_kg=np.array([20.0, 5.0]))

    assert (part.origin.tolist(), part.most_kg.tolist()) == ([1], [20])


@given(model=small_models())
@settings(max_examples=40, deadline=None)
def test_a_plan_of_a_narrowed_model_is_the_same_plan_of_the_whole(model: Model) -> None:
    among = np.arange(model.requests) % 2 == 0
    part = narrowed(model, among=among)
    plan = take_in_turn(part, range(part.requests))

    whole = widened(model, part, plan)

    assert violations_of(model, whole) == []
    assert model.worth(whole) == pytest.approx(part.worth(plan))
    assert model.taken_kg(whole).tolist() == pytest.approx(part.taken_kg(plan).tolist())
    assert not model.covered_kg(whole)[~among].any()
