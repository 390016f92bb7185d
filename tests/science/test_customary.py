import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants

from service.errors import OutOfRange
from service.science import customary

PAIRS = [
    (customary.lb_from_kg, "mass_kg", customary.kg_from_lb, "mass_lb"),
    (customary.oz_from_g, "mass_g", customary.g_from_oz, "mass_oz"),
    (customary.us_gallon_from_l, "volume_l", customary.l_from_us_gallon, "volume_us_gallon"),
    (customary.us_barrel_from_l, "volume_l", customary.l_from_us_barrel, "volume_us_barrel"),
    (customary.fahrenheit_from_celsius, "temperature_c", customary.celsius_from_fahrenheit, "temperature_f"),
]


@pytest.mark.parametrize(("there", "one", "back", "other"), PAIRS, ids=[pair[0].__name__ for pair in PAIRS])
@settings(max_examples=30)
@given(amount=st.floats(0, 2000))
def test_a_conversion_survives_the_round_trip(there, one, back, other, amount):
    assert back(**{other: there(**{one: amount})}) == pytest.approx(amount, rel=1e-12, abs=1e-12)


def test_the_factors_are_those_of_an_independent_library():
    # scipy.constants: pound, ounce, US gallon in SI units.
    assert pytest.approx(constants.pound, rel=1e-15) == customary.KG_PER_LB
    assert pytest.approx(constants.ounce * 1000, rel=1e-12) == customary.G_PER_OZ
    assert pytest.approx(constants.gallon * 1000, rel=1e-12) == customary.L_PER_US_GALLON
    assert pytest.approx(117.347765304, rel=1e-12) == customary.L_PER_US_BARREL


@pytest.mark.parametrize(("celsius", "fahrenheit"), [(-40, -40), (0, 32), (37, 98.6), (100, 212)])
def test_known_temperatures_agree(celsius, fahrenheit):
    assert customary.fahrenheit_from_celsius(temperature_c=celsius) == pytest.approx(fahrenheit)
    assert customary.celsius_from_fahrenheit(temperature_f=fahrenheit) == pytest.approx(celsius)


@pytest.mark.parametrize(("there", "one", "back", "other"), PAIRS, ids=[pair[0].__name__ for pair in PAIRS])
def test_an_impossible_amount_is_refused(there, one, back, other):
    for formula, name in ((there, one), (back, other)):
        with pytest.raises(OutOfRange) as refused:
            formula(**{name: -1000})
        assert refused.value.facts["name"] == name
