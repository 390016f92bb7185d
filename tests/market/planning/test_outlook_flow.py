"""The most that can be taken, against all ways to share."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from service.market.planning.outlook_flow import MOST_UNITS, most_taken

MASK = st.integers(0, 31)


def places(mask: int, lots: int) -> np.ndarray:
    return np.array([place for place in range(lots) if mask >> place & 1], dtype=np.int64)


@given(
    there=st.lists(st.floats(0.001, 500), min_size=1, max_size=5),
    wants=st.lists(st.tuples(st.floats(0.001, 500), MASK), min_size=1, max_size=6),
)
def test_the_flow_is_what_a_linear_programme_finds(
    there: list[float], wants: list[tuple[float, int]]
) -> None:
    fits = [places(mask, len(there)) for _, mask in wants]
    pairs = [(request, lot) for request, lots in enumerate(fits) for lot in lots.tolist()]

    found = most_taken([kg for kg, _ in wants], fits, np.array(there))

    if not pairs:
        assert found == 0.0
        return
    rows = [[float(request == one) for request, _ in pairs] for one in range(len(wants))]
    rows += [[float(lot == one) for _, lot in pairs] for one in range(len(there))]
    best = -linprog(-np.ones(len(pairs)), A_ub=rows, b_ub=[*(kg for kg, _ in wants), *there]).fun
    assert best - 1e-6 <= found <= best + 0.012


def test_more_than_whole_grams_can_count_is_counted_in_larger_units() -> None:
    tons = MOST_UNITS * 1.0
    fits = [np.array([0]), np.array([0, 1])]

    assert most_taken([tons, tons], fits, np.array([tons / 4, tons / 2])) == pytest.approx(0.75 * tons)
    assert most_taken([tons, tons / 4], fits, np.array([tons / 4, tons])) == pytest.approx(tons / 2)


def test_with_too_many_pairs_all_lots_count_as_one() -> None:
    fits, there = [np.array([0]), np.array([0, 1])], np.array([10.0, 90.0])

    assert most_taken([50.0, 20.0], fits, there) == 30.0
    assert most_taken([50.0, 20.0], fits, there, pairs_max=2) == 70.0


def test_nothing_wanted_and_nothing_there_is_nothing_taken() -> None:
    assert most_taken([], [], np.array([5.0])) == 0.0
    assert most_taken([5.0], [np.array([], dtype=np.int64)], np.array([])) == 0.0
