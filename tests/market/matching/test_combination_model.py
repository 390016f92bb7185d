"""What a mix breaks, told from its masses alone."""

import numpy as np
import pytest

from service.market.matching.combination_model import MixLimit, breaks
from tests.market.matching.combination_cases import a_mix


@pytest.mark.parametrize(
    ("mass_kg", "broken"),
    [
        ([20, 10, 0], {}),
        ([20, 5, 0], {"need": 25 / 30}),
        ([0, 30, 0], {"alpha_percent_min": 6.0}),
        ([10, 10, 10], {"lots_max": 3, "within_km": 40, "alpha_percent_min": 9.0}),
        ([27, 3, 0], {"parcel_kg_min": 3, "alpha_percent_max": 11.4}),
    ],
)
def test_breaks_names_each_limit_with_what_was_found(mass_kg: list[float], broken: dict[str, float]) -> None:
    mix = a_mix(
        [40, 40, 40],
        [1, 1, 1],
        alpha=[12.0, 6.0, 9.0],
        alpha_min=9.5,
        alpha_max=11.0,
        parcel_kg=5,
        lots_max=2,
        beyond_km=[0, 0, 40],
    )

    assert breaks(mix, np.array(mass_kg, dtype=float)) == pytest.approx(broken)


def test_a_limit_of_which_no_lot_knows_anything_is_kept() -> None:
    limit = MixLimit(name="price_per_kg_max", wanted=20, is_upper=True, over=np.zeros(2), under=np.zeros(2))

    assert limit.found(np.array([10.0, 5.0])) == 0
    assert (limit.coefficients == 0).all()
