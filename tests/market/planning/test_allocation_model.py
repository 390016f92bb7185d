"""The columns of an allocation, and what a plan may not break."""

import numpy as np
import pytest

from service.market.goods.stock import to_the_gram
from service.market.planning.allocation_model import faults_of, grid_of, make_model, rows_of
from tests.market.planning.allocation_cases import a_model


def test_make_model_leaves_out_pairs_that_cannot_give_their_least() -> None:
    model = a_model([10, 3], [20, 4], [(1, 0, 0.5), (0, 1, 0.9), (0, 0, 0.7)], least_kg=5)

    assert [model.request.tolist(), model.lot.tolist(), model.origin.tolist()] == [[0], [0], [2]]
    assert model.most_kg.tolist() == [10]


def test_make_model_counts_whole_packages_between_least_and_most() -> None:
    model = a_model([50], [60], [(0, 0, 1.0)], step_kg=[20], least_kg=25)

    assert (model.least_kg.tolist(), model.most_kg.tolist()) == ([40], [40])


def test_make_model_leaves_out_lots_that_are_worth_nothing_and_requests_that_may_take_no_lot() -> None:
    model = a_model([10, 10], [20], [(0, 0, 0.0), (1, 0, 1.0)], lots_max=[3, 0])

    assert model.pairs == 0


def test_a_lot_rich_in_alpha_covers_more_need_than_it_weighs() -> None:
    model = make_model(
        need_kg=np.array([30.0]),
        lots_max=np.array([1]),
        stock_kg=np.array([100.0]),
        step_kg=np.array([0.0]),
        request=np.array([0]),
        lot=np.array([0]),
        worth_per_kg=np.array([1.0]),
        covers=np.array([1.5]),
        least_kg=np.array([1.0]),
    )

    assert model.most_kg.tolist() == [20]
    assert model.covered_kg(np.array([20.0])).tolist() == [30]


def test_to_the_gram_forgives_a_solver_its_last_digit_and_no_more() -> None:
    assert to_the_gram(np.array([1.0009, 0.9999999999, 2.0])).tolist() == [1.0, 1.0, 2.0]


@pytest.mark.parametrize(
    ("mass_kg", "words"),
    [
        ([2.0, 0.0, 0.0], "under the least parcel"),
        ([11.0, 0.0, 0.0], "over the most"),
        ([5.0005, 0.0, 0.0], "no whole number of grams"),
        ([0.0, 7.0, 0.0], "no whole number of packages"),
        ([8.0, 0.0, 5.0], "lot 0 gives 13.0 kg and has 12.0 kg"),
        ([8.0, 10.0, 0.0], "request 0 gets 18.0 kg and needs 10.0 kg"),
        ([4.0, 5.0, 0.0], "request 0 takes from 2 lots, at most 1"),
    ],
)
def test_faults_of_names_what_a_plan_breaks(mass_kg: list[float], words: str) -> None:
    model = a_model(
        [10, 10],
        [12, 40],
        [(0, 0, 1.0), (0, 1, 1.0), (1, 0, 1.0)],
        least_kg=3,
        step_kg=[0.0, 5.0],
        lots_max=[1, 3],
    )

    assert faults_of(model, np.array([4.0, 0.0, 8.0])) == []
    assert words in " ".join(faults_of(model, np.array(mass_kg)))


def test_grid_of_lays_each_request_in_a_line_and_fills_up_with_pairs_that_give_nothing() -> None:
    grid = grid_of(a_model([10, 10, 10], [12, 40], [(0, 0, 0.5), (0, 1, 0.7), (2, 1, 0.9)]))

    assert grid.width == 2
    assert grid.is_pair.tolist() == [[True, True], [False, False], [True, False]]
    assert grid.most.tolist() == [[10, 10], [0, 0], [10, 0]]
    assert grid.worth.tolist() == [[0.5, 0.7], [0, 0], [0.9, 0]]


def test_rows_of_finds_the_pairs_of_requests() -> None:
    model = a_model([10, 10, 10], [12, 40], [(0, 0, 0.5), (1, 1, 0.7), (2, 1, 0.9)])

    assert rows_of(model, [2, 0]).tolist() == [0, 2]
