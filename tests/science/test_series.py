import math

import numpy as np
import pytest

from service.errors import OutOfRange
from service.science.series import between_all


@pytest.mark.parametrize(
    "values", [np.array([0.0, 100.0]), np.array([5]), np.array([[1.0, 2.0]])], ids=["ends", "whole", "table"]
)
def test_between_all_lets_figures_in_range_pass(values):
    assert between_all("alpha_percent", values, 0, 100, "%") is None


@pytest.mark.parametrize(
    ("values", "shown"),
    [
        (np.array([1.0, -0.5, 200.0]), "not -0.5"),
        (np.array([1.0, math.nan]), "not nan"),
        (np.array([math.inf]), "not inf"),
        (np.array([]), "must be one or more numbers"),
        (np.array([True]), "must be one or more numbers"),
        (np.array(["5"]), "must be one or more numbers"),
        (np.array([None]), "must be one or more numbers"),
    ],
    ids=["low", "nan", "infinite", "none", "bool", "text", "object"],
)
def test_between_all_refuses_and_names_the_first(values, shown):
    with pytest.raises(OutOfRange, match=shown) as refused:
        between_all("alpha_percent", values, 0, 100, "%")

    assert refused.value.facts["name"] == "alpha_percent"


@pytest.mark.parametrize("wrong", [-1.0, 101.0, math.nan], ids=str)
@pytest.mark.parametrize("place", [0, 65_536, 199_999], ids=str)
def test_one_figure_among_very_many_is_found(wrong, place):
    values = np.full(200_000, 50.0)
    between_all("alpha_percent", values, 0, 100, "%")
    values[place] = wrong

    with pytest.raises(OutOfRange, match=f"not {wrong:g}"):
        between_all("alpha_percent", values, 0, 100, "%")
