import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.isomerization import (
    alpha_half_life_minutes,
    alpha_left_fraction,
    degradation_rate_per_minute,
    is_extrapolated,
    iso_alpha_fraction,
    iso_from_rates,
    iso_left_fraction,
    isomerization_rate_per_minute,
    relative_isomerization_rate,
    time_of_maximum_minutes,
)

TEMPERATURES = st.floats(60, 130)
MINUTES = st.floats(0, 240)


@settings(max_examples=60)
@given(TEMPERATURES, MINUTES, MINUTES)
def test_splitting_a_hold_changes_nothing(temperature_c, first, second):
    whole = iso_alpha_fraction(temperature_c=temperature_c, minutes=first + second)

    alpha = alpha_left_fraction(temperature_c=temperature_c, minutes=first)
    iso = iso_alpha_fraction(temperature_c=temperature_c, minutes=first)
    kept = iso * iso_left_fraction(temperature_c=temperature_c, minutes=second)
    formed = alpha * iso_alpha_fraction(temperature_c=temperature_c, minutes=second)

    assert kept + formed == pytest.approx(whole, rel=1e-11, abs=1e-300)


@settings(max_examples=60)
@given(TEMPERATURES, st.floats(0, 1), st.floats(0, 1))
def test_iso_rises_up_to_the_time_of_its_maximum_and_falls_after_it(temperature_c, a, b):
    top = min(time_of_maximum_minutes(temperature_c=temperature_c), 1440)
    sooner, later = sorted((a, b))

    assert iso_alpha_fraction(temperature_c=temperature_c, minutes=sooner * top) <= iso_alpha_fraction(
        temperature_c=temperature_c, minutes=later * top
    ) * (1 + 1e-12)
    if 2 * top <= 1440:
        at_top = iso_alpha_fraction(temperature_c=temperature_c, minutes=top)
        assert iso_alpha_fraction(temperature_c=temperature_c, minutes=2 * top) < at_top


@settings(max_examples=60)
@given(TEMPERATURES, st.floats(0, 1440))
def test_alpha_and_iso_never_exceed_what_was_added(temperature_c, minutes):
    alpha = alpha_left_fraction(temperature_c=temperature_c, minutes=minutes)
    iso = iso_alpha_fraction(temperature_c=temperature_c, minutes=minutes)

    assert 0 <= iso <= 1
    assert alpha + iso <= 1 + 1e-12


@pytest.mark.parametrize("gap", [0.0, 1e-17, 1e-12, 1e-9, 1e-6], ids=str)
def test_nearly_equal_rates_keep_their_digits(gap):
    rate, minutes = 0.01, 100.0
    series = rate * minutes * math.exp(-rate * minutes) * (1 - gap * minutes / 2 + (gap * minutes) ** 2 / 6)

    answer = iso_from_rates(forming_per_minute=rate, losing_per_minute=rate + gap, minutes=minutes)

    assert answer == pytest.approx(series, rel=1e-12)


def test_a_tiny_yield_keeps_its_digits():
    rate = isomerization_rate_per_minute(temperature_c=60)

    assert iso_alpha_fraction(temperature_c=60, minutes=1e-6) == pytest.approx(rate * 1e-6, rel=1e-9)
    assert iso_alpha_fraction(temperature_c=60, minutes=0) == 0


def test_the_order_of_the_rates_is_kept():
    fast_then_slow = iso_from_rates(forming_per_minute=0.02, losing_per_minute=0.001, minutes=60)
    slow_then_fast = iso_from_rates(forming_per_minute=0.001, losing_per_minute=0.02, minutes=60)

    assert fast_then_slow == pytest.approx(20 * slow_then_fast, rel=1e-12)
    assert fast_then_slow == pytest.approx(0.02 / 0.019 * (math.exp(-0.06) - math.exp(-1.2)), rel=1e-12)


def test_the_maximum_at_100_c_yields_the_published_share():
    # Malowicki & Shellhammer 2005: (k1/k2)^(k2/(k2 - k1)), 0.632 at 100 °C.
    top = time_of_maximum_minutes(temperature_c=100)

    assert iso_alpha_fraction(temperature_c=100, minutes=top) == pytest.approx(0.632, abs=0.0005)


@pytest.mark.parametrize(
    ("temperature_c", "expected"), [(89.9, True), (90, False), (130, False), (130.1, True)], ids=str
)
def test_is_extrapolated_outside_the_measured_range(temperature_c, expected):
    assert is_extrapolated(temperature_c=temperature_c) is expected


@pytest.mark.parametrize("temperature_c", [59.9, 130.1, math.nan, math.inf, "100", True], ids=str)
@pytest.mark.parametrize(
    "formula",
    [
        isomerization_rate_per_minute,
        degradation_rate_per_minute,
        relative_isomerization_rate,
        time_of_maximum_minutes,
        alpha_half_life_minutes,
    ],
    ids=lambda formula: formula.__name__,
)
def test_a_temperature_outside_the_range_is_refused(formula, temperature_c):
    with pytest.raises(OutOfRange) as refused:
        formula(temperature_c=temperature_c)

    assert refused.value.facts["name"] == "temperature_c"
    assert (refused.value.facts["low"], refused.value.facts["high"]) == (60, 130)


@pytest.mark.parametrize("formula", [iso_alpha_fraction, alpha_left_fraction, iso_left_fraction])
def test_a_negative_time_is_refused(formula):
    with pytest.raises(OutOfRange, match="minutes must be 0 to 1440 min, not -1"):
        formula(temperature_c=100, minutes=-1)
