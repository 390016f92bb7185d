"""A limit's words and what one lot fails."""

from decimal import Decimal

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from service.market.matching.limit_facts import Failure, Limit, failures_of, written


def test_failures_of_tells_only_what_a_lot_does_not_keep() -> None:
    limit = Limit(
        name="within_km",
        wanted=lambda place: 80.0,
        holds=np.array([True, False]),
        off=np.array([0.0, 0.1]),
        found=lambda place: 88.0,
        change=lambda place: "within_km 88",
    )

    assert failures_of([limit], 0) == ()
    assert failures_of([limit], 1) == (
        Failure(limit="within_km", wanted=80.0, found=88.0, change="within_km 88"),
    )


@given(st.floats(0, 1e9))
def test_written_lies_on_its_side_within_a_step_and_without_an_exponent(value: float) -> None:
    low, high = written(value, "ROUND_FLOOR"), written(value, "ROUND_CEILING")

    assert float(low) <= value <= float(high)
    assert Decimal(high) - Decimal(low) in (0, Decimal("0.01"))
    assert "e" not in (low + high).lower()
