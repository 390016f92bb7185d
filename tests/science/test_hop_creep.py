import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.hop_creep import creep_alcohol_percent, creep_carbon_dioxide_volumes


@given(st.floats(0, 5), st.floats(0, 5))
def test_creep_adds_up(first, second):
    for formula in (creep_alcohol_percent, creep_carbon_dioxide_volumes):
        apart = formula(extract_drop_plato=first) + formula(extract_drop_plato=second)
        assert formula(extract_drop_plato=first + second) == pytest.approx(apart, rel=1e-12, abs=1e-300)


def test_alcohol_and_gas_are_made_in_the_ratio_of_their_molecules():
    # One glucose gives two of each: 2 * 46.068 g ethanol, 2 * 44.009 g carbon dioxide.
    alcohol_g_per_l = creep_alcohol_percent(extract_drop_plato=1) * 7.89
    gas_g_per_l = creep_carbon_dioxide_volumes(extract_drop_plato=1) * 1.9768

    assert gas_g_per_l / alcohol_g_per_l == pytest.approx(44.009 / 46.068, rel=0.002)


@pytest.mark.parametrize("formula", [creep_alcohol_percent, creep_carbon_dioxide_volumes])
def test_a_drop_outside_the_range_is_refused(formula):
    with pytest.raises(OutOfRange, match="extract_drop_plato must be 0 to 10 °P, not -1"):
        formula(extract_drop_plato=-1)
