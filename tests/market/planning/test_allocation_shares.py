"""Shares of a short crop."""

import numpy as np
import pytest
from hypothesis import given, settings

from service.market.planning.allocation_model import Model
from service.market.planning.allocation_shares import fair_shares, steps_for
from tests.benchmarks.hop_market import hop_market
from tests.market.planning.allocation_cases import a_model, small_models


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
@settings(max_examples=20)
def test_shares_together_take_no_more_than_there_is(model: Model) -> None:
    shares = fair_shares(model, seconds=60)

    assert shares is not None
    assert ((shares >= 0) & (shares <= 1)).all()
    assert (shares * model.need_kg).sum() <= model.stock_kg.sum() + 1e-6
    reached = np.unique(model.request)
    assert (shares[np.setdiff1d(np.arange(len(shares)), reached)] == 0).all()


def test_shares_that_cannot_be_told_in_time_are_not_made_up() -> None:
    assert fair_shares(hop_market(requests=200, lots=400, suits=20), seconds=1e-6) is None


def test_steps_are_finer_for_few() -> None:
    assert [steps_for(n) for n in (0, 15, 400, 2000, 9000)] == [200, 200, 100, 20, 20]
