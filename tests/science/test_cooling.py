import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.cooling import cooling_rate_per_minute, cooling_temperature_c
from service.science.kettle import Cooling, profile_temperature_c

POT = {"volume_l": 20.0, "wort_area_cm2": 900.0, "opening_area_cm2": 900.0}


def test_a_vessel_starts_at_the_boil():
    assert cooling_temperature_c(**POT, minutes=0) == pytest.approx(100.1)


@settings(max_examples=50)
@given(st.floats(0, 60), st.floats(0, 60), st.floats(0, 100))
def test_wort_cools_with_time_and_a_lid_keeps_it_warm(a, b, covered_percent):
    sooner, later = sorted((a, b))

    warm = cooling_temperature_c(**POT, minutes=sooner, covered_percent=covered_percent)
    assert warm >= cooling_temperature_c(**POT, minutes=later, covered_percent=covered_percent)
    assert warm >= cooling_temperature_c(**POT, minutes=sooner)


def test_the_fit_and_a_kettle_profile_are_one_curve():
    rate = cooling_rate_per_minute(**POT, covered_percent=50)
    curve = Cooling(minutes=30, from_c=100.1, surroundings_c=46.40, rate_per_minute=rate)

    read = profile_temperature_c(profile=[curve], at_minutes=15)

    assert read == pytest.approx(cooling_temperature_c(**POT, minutes=15, covered_percent=50))


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("volume_l", 3.8),
        ("volume_l", 31.3),
        ("wort_area_cm2", 99),
        ("opening_area_cm2", -1),
        ("covered_percent", 101),
        ("minutes", 61),
    ],
)
def test_cooling_refuses_what_the_fit_has_not_seen(name, value):
    with pytest.raises(OutOfRange) as refused:
        cooling_temperature_c(**{**POT, "minutes": 10, name: value})

    assert refused.value.facts["name"] == name
