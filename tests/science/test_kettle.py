import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from service.errors import OutOfRange
from service.science.isomerization import alpha_left_fraction, iso_alpha_fraction
from service.science.kettle import (
    Cooling,
    Hold,
    Ramp,
    Readings,
    kettle_yields,
    profile_temperature_c,
)

BOIL, REST = Hold(minutes=60, temperature_c=100), Hold(minutes=10, temperature_c=94)
RAMP = Ramp(minutes=15, from_c=94, to_c=80)
CURVE = Cooling(minutes=45, from_c=80, surroundings_c=15, rate_per_minute=0.08)
LOGGED = Readings(at_minutes=(3, 10, 40, 41, 90), temperatures_c=(100, 97, 70, 66, 20))
EDGES = (0, 60, 70, 85, 130, 137, 167, 168, 217)
PROFILE = (BOIL, REST, RAMP, CURVE, LOGGED)


def temperature_c(minutes: float) -> float:
    """The same kettle written down by hand, for the solver."""
    if minutes <= 60:
        return 100
    if minutes <= 70:
        return 94
    if minutes <= 85:
        return 94 - 14 * (minutes - 70) / 15
    if minutes <= 130:
        return 15 + 65 * math.exp(-0.08 * (minutes - 85))
    if minutes <= 137:
        return 100 - 3 * (minutes - 130) / 7
    if minutes <= 167:
        return 97 - 0.9 * (minutes - 137)
    if minutes <= 168:
        return 70 - 4 * (minutes - 167)
    return 66 - 46 * (minutes - 168) / 49


def solved(added: float, until: float) -> tuple[float, float, float]:
    """Alpha, iso and losses by a general solver that is restarted at every corner of the profile."""
    state = [1.0, 0.0, 0.0]
    corners = sorted({added, until, *(edge for edge in EDGES if added < edge < until)})
    for start, end in itertools.pairwise(corners):
        middle = (start + end) / 2

        def rates(at, now, side=middle):
            # A jump between stretches belongs to the side on which this piece lies.
            kelvin = temperature_c(at + 1e-9 * (side - at)) + 273.15
            formed = 7.9e11 * math.exp(-11858 / kelvin) * now[0]
            lost = 4.1e12 * math.exp(-12994 / kelvin) * now[1]
            return [-formed, formed - lost, lost]

        state = solve_ivp(rates, (start, end), state, method="DOP853", rtol=1e-12, atol=1e-15).y[:, -1]
    return tuple(state)


@pytest.mark.parametrize("added", [0, 20, 59.5, 60, 65, 70, 77, 85, 100, 129, 131, 150, 167.5, 200], ids=str)
def test_a_kettle_agrees_with_a_general_solver(added):
    alpha, iso, losses = solved(added, 217)

    answer = kettle_yields(profile=PROFILE, added_at_minutes=[added])[0]

    assert answer.alpha_fraction == pytest.approx(alpha, rel=1e-7)
    assert answer.iso_fraction == pytest.approx(iso, rel=1e-7)
    assert answer.losses_fraction == pytest.approx(losses, abs=1e-7)


@settings(max_examples=60)
@given(st.floats(60, 130), st.floats(0, 600))
def test_a_hold_agrees_with_the_closed_form(temperature, minutes):
    answer = kettle_yields(profile=[Hold(minutes, temperature)], added_at_minutes=[0])[0]

    closed = iso_alpha_fraction(temperature_c=temperature, minutes=minutes)
    assert answer.iso_fraction == pytest.approx(closed, rel=1e-9, abs=1e-300)
    left = alpha_left_fraction(temperature_c=temperature, minutes=minutes)
    assert answer.alpha_fraction == pytest.approx(left, rel=1e-9)


@settings(max_examples=40)
@given(st.floats(0, 60), st.floats(20, 130), st.floats(20, 130), st.floats(0.05, 0.95))
def test_splitting_a_ramp_changes_nothing(minutes, from_c, to_c, share):
    between_c = from_c + share * (to_c - from_c)
    whole = kettle_yields(profile=[BOIL, Ramp(minutes, from_c, to_c)], added_at_minutes=[10])
    halves = [Ramp(share * minutes, from_c, between_c), Ramp((1 - share) * minutes, between_c, to_c)]

    split = kettle_yields(profile=[BOIL, *halves], added_at_minutes=[10])

    assert split[0].iso_fraction == pytest.approx(whole[0].iso_fraction, rel=1e-9)
    assert split[0].alpha_fraction == pytest.approx(whole[0].alpha_fraction, rel=1e-9)


@settings(max_examples=40)
@given(st.lists(st.floats(0, 217), min_size=1, max_size=12))
def test_the_fractions_of_each_addition_sum_to_one(added):
    for answer in kettle_yields(profile=PROFILE, added_at_minutes=added):
        parts = (answer.alpha_fraction, answer.iso_fraction, answer.losses_fraction)
        assert math.fsum(parts) == pytest.approx(1, abs=1e-12)
        assert all(-1e-12 <= part <= 1 for part in parts)


@settings(max_examples=40)
@given(st.lists(st.floats(0, 217), min_size=2, max_size=8))
def test_additions_do_not_disturb_each_other(added):
    together = kettle_yields(profile=PROFILE, added_at_minutes=added)

    alone = [kettle_yields(profile=PROFILE, added_at_minutes=[at])[0] for at in added]

    for one, other in zip(together, alone, strict=True):
        assert one.iso_fraction == pytest.approx(other.iso_fraction, rel=1e-9, abs=1e-12)


@settings(max_examples=40)
@given(st.floats(0, 60), st.floats(0, 60))
def test_hops_added_sooner_isomerise_more_while_the_boil_is_short(a, b):
    sooner, later = sorted((a, b))

    first, second = kettle_yields(profile=[BOIL, REST], added_at_minutes=[sooner, later])

    assert first.iso_fraction >= second.iso_fraction - 1e-12
    assert first.alpha_fraction <= second.alpha_fraction + 1e-12


def test_readings_and_ramps_are_one_thing():
    ramps = [Ramp(5, 100, 90), Ramp(30, 90, 60)]

    by_ramps = kettle_yields(profile=ramps, added_at_minutes=[2])
    readings = Readings(at_minutes=(5, 10, 40), temperatures_c=(100, 90, 60))

    assert kettle_yields(profile=[readings], added_at_minutes=[2]) == by_ramps


def test_a_kettle_flags_what_lies_outside_the_measured_range():
    flags = [
        answer.is_extrapolated
        for answer in kettle_yields(profile=[RAMP, BOIL], added_at_minutes=[0, 14.9, 15, 40])
    ]

    assert flags == [True, True, False, False]


def test_cold_wort_adds_next_to_nothing():
    answer = kettle_yields(profile=[Hold(minutes=60, temperature_c=20)], added_at_minutes=[0])[0]

    assert 0 < answer.iso_fraction < 0.0002


def test_a_stretch_of_no_length_leaves_alpha_as_it_was():
    profile = [Hold(0, 100), Ramp(0, 100, 80), Cooling(0, 100, 20, 0.1)]

    answer = kettle_yields(profile=profile, added_at_minutes=[0])[0]

    assert (answer.alpha_fraction, answer.iso_fraction, answer.losses_fraction) == (1, 0, 0)
    assert answer.is_extrapolated is False


@pytest.mark.parametrize("minutes", [0, 30, 65, 77.5, 100, 133, 140, 167.25, 217], ids=str)
def test_profile_temperature_reads_the_profile(minutes):
    assert profile_temperature_c(profile=PROFILE, at_minutes=minutes) == pytest.approx(temperature_c(minutes))


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: Hold(minutes=-1, temperature_c=100), "minutes"),
        (lambda: Hold(minutes=10, temperature_c=131), "temperature_c"),
        (lambda: Hold(minutes=10, temperature_c=math.nan), "temperature_c"),
        (lambda: Ramp(minutes=10, from_c=-1, to_c=20), "from_c"),
        (lambda: Cooling(minutes=10, from_c=90, surroundings_c=20, rate_per_minute=-0.1), "rate_per_minute"),
        (lambda: Readings(at_minutes=(0,), temperatures_c=(90,)), "number of readings"),
        (lambda: Readings(at_minutes=(0, 1), temperatures_c=(90,)), "number of temperatures"),
        (lambda: Readings(at_minutes=(0, 1, 1), temperatures_c=(90, 80, 70)), "at_minutes"),
        (lambda: Readings(at_minutes=(0, 1), temperatures_c=(90, 140)), "temperatures_c"),
        (lambda: kettle_yields(profile=[], added_at_minutes=[0]), "number of stretches"),
        (lambda: kettle_yields(profile=[Hold(1440, 90)] * 2, added_at_minutes=[0]), "minutes of the profile"),
        (lambda: kettle_yields(profile=[BOIL], added_at_minutes=[61]), "added_at_minutes"),
        (lambda: kettle_yields(profile=[BOIL], added_at_minutes=[]), "added_at_minutes"),
        (lambda: kettle_yields(profile=[BOIL], added_at_minutes=["0"]), "added_at_minutes"),
        (lambda: profile_temperature_c(profile=[BOIL], at_minutes=60.5), "at_minutes"),
    ],
)
def test_a_kettle_refuses_what_cannot_be(make, named):
    with pytest.raises(OutOfRange) as refused:
        make()

    assert refused.value.facts["name"] == named
