"""Weights between moistures: the dry matter is what stays."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.moisture import wet_dry_ratio
from service.science.moisture_trade import contract_weight_kg, implied_green_moisture_percent, wet_for_dry_kg


@given(weight_kg=st.floats(0, 1e4), moisture=st.floats(0, 90), contract=st.floats(0, 90))
def test_the_contract_weight_carries_the_same_dry_matter(
    weight_kg: float, moisture: float, contract: float
) -> None:
    paid_kg = contract_weight_kg(
        weight_kg=weight_kg, moisture_percent=moisture, contract_moisture_percent=contract
    )

    assert paid_kg * (100 - contract) == pytest.approx(weight_kg * (100 - moisture))


@given(green=st.floats(55, 90), dry=st.floats(5, 50))
def test_a_ratio_implies_the_moisture_it_came_from(green: float, dry: float) -> None:
    ratio = wet_dry_ratio(green_moisture_percent=green, dry_moisture_percent=dry)

    assert implied_green_moisture_percent(ratio=ratio, dry_moisture_percent=dry) == pytest.approx(green)


def test_wet_hops_replace_dried_ones_by_dry_matter() -> None:
    assert wet_for_dry_kg(dry_kg=10, dry_moisture_percent=10, wet_moisture_percent=80) == pytest.approx(45)


def test_a_ratio_under_one_is_refused() -> None:
    with pytest.raises(OutOfRange):
        implied_green_moisture_percent(ratio=0.9, dry_moisture_percent=10)


@pytest.mark.parametrize("moisture", [-1, 99.5, float("nan")])
def test_moistures_that_cannot_be_are_refused(moisture: float) -> None:
    with pytest.raises(OutOfRange):
        contract_weight_kg(weight_kg=1, moisture_percent=moisture, contract_moisture_percent=10)
    with pytest.raises(OutOfRange):
        wet_for_dry_kg(dry_kg=1, dry_moisture_percent=9, wet_moisture_percent=moisture)
