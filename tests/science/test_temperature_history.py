"""A temperature history: the integral against a general quadrature, and everything odd reported."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from service.errors import OutOfRange, UnreadableReadings
from service.science.storage import Spell, log_loss
from service.science.storage_spread import Ratio, log_loss_estimate
from service.science.temperature_history import Gap, TemperatureHistory, temperature_history
from service.science.uncertainty import Estimate

DAY_S = 86_400.0


def history(days: list[float], temperatures: list[float], **more: object) -> TemperatureHistory:
    return temperature_history(
        at_s=np.array(days) * DAY_S,
        temperature_c=np.array(temperatures, dtype=np.float64),
        **more,  # type: ignore[arg-type]
    )


@settings(max_examples=40)
@given(temperatures=st.lists(st.floats(-30, 40), min_size=2, max_size=8))
def test_the_integral_agrees_with_a_general_quadrature(temperatures: list[float]) -> None:
    # scipy.integrate.quad over the straight lines, corner by corner.
    days = list(range(len(temperatures)))
    corners = list(pairwise(temperatures))
    whole = sum(quad(lambda u, a=a, b=b: 2 ** ((a + (b - a) * u - 20) / 15), 0, 1)[0] for a, b in corners)
    warm = sum(
        quad(
            lambda u, a=a, b=b: 2 ** ((a + (b - a) * u - 20) / 15) if a + (b - a) * u > 20 else 0,
            0,
            1,
            points=[(20 - a) / (b - a)] if min(a, b) < 20 < max(a, b) else None,
        )[0]
        for a, b in corners
    )

    answer = history([float(day) for day in days], temperatures)

    assert answer.effective_days_at_20_c == pytest.approx(whole, rel=1e-9)
    assert answer.effective_days_above_20_c == pytest.approx(warm, rel=1e-7, abs=1e-8)


def test_a_steady_temperature_is_a_spell() -> None:
    answer = history([0, 10, 30], [5, 5, 5])

    assert answer.effective_days_at_20_c == pytest.approx(15.0)
    assert answer.equivalent_temperature_c == pytest.approx(5.0)
    assert (answer.mean_c, answer.coldest_c, answer.hottest_c) == (pytest.approx(5.0), 5.0, 5.0)
    assert answer.days == 30.0


@given(temperatures=st.lists(st.floats(-30, 40), min_size=2, max_size=20))
def test_the_spell_of_a_history_costs_exactly_as_much(temperatures: list[float]) -> None:
    answer = history([float(day) for day in range(len(temperatures))], temperatures)

    spell = answer.spell(packing_factor=0.5, packing_factor_low=0.3, packing_factor_high=0.7)

    exponent = log_loss(spells=[spell], lost_6_months_percent=50)
    reference = log_loss(spells=[Spell(answer.effective_days_at_20_c, 20, 0.5)], lost_6_months_percent=50)
    assert exponent == pytest.approx(reference, rel=1e-9)
    assert 0 <= (spell.share_above_20_c or 0) <= 1


def test_a_reading_more_on_a_straight_line_changes_nothing() -> None:
    coarse = history([0, 2], [10, 30])
    fine = history([0, 0.5, 1, 2], [10, 15, 20, 30])

    assert fine.effective_days_at_20_c == pytest.approx(coarse.effective_days_at_20_c, rel=1e-12)
    assert fine.effective_days_above_20_c == pytest.approx(coarse.effective_days_above_20_c, rel=1e-12)
    assert coarse.days_above_20_c == pytest.approx(1.0)


def test_over_20_c_is_counted_flagged_and_never_dropped() -> None:
    answer = history([0, 1, 2, 3], [20, 25, 25, 20])

    assert answer.readings_above_20_c == 2
    assert answer.is_outside_model
    assert answer.days_above_20_c == 3.0
    assert answer.effective_days_above_20_c == pytest.approx(answer.effective_days_at_20_c)
    assert answer.effective_days_at_20_c > 3
    assert not history([0, 1], [20, 20]).is_outside_model


def test_a_warm_share_widens_the_estimate() -> None:
    rate = Estimate(0.004, 0.003, 0.005)
    warm = history([0, 50, 100], [4, 30, 4]).spell(packing_factor=1.0)

    plain = log_loss_estimate(spells=[warm], rate_per_day=rate)
    flagged = log_loss_estimate(spells=[warm], rate_per_day=rate, above_20_c=Ratio(0.8, 2.0))

    assert flagged.high > plain.high
    assert flagged.estimate == plain.estimate


def test_gaps_are_reported_and_bridged() -> None:
    answer = history([0, 1, 2, 9, 10], [4, 4, 4, 4, 4])

    assert answer.gaps == (Gap(2 * DAY_S, 9 * DAY_S),)
    assert answer.gap_hours == 7 * 24
    assert answer.effective_days_at_20_c == pytest.approx(10 * 2 ** (-16 / 15))


def test_the_length_of_a_gap_can_be_said() -> None:
    assert history([0, 1, 2, 9], [4, 4, 4, 4], gap_hours=24 * 8.0).gaps == ()
    assert len(history([0, 1, 2, 9], [4, 4, 4, 4], gap_hours=23.0).gaps) == 3


def test_of_duplicates_the_warmest_counts_and_they_are_reported() -> None:
    answer = history([0, 1, 1, 1, 2], [5, 5, 9, 5, 5])

    assert answer.duplicates == 2
    assert answer.readings == 5
    assert answer.effective_days_at_20_c == history([0, 1, 2], [5, 9, 5]).effective_days_at_20_c


def test_rows_out_of_order_are_reported_and_put_in_order() -> None:
    answer = history([0, 2, 1, 3], [4, 8, 6, 10])

    assert answer.out_of_order == 1
    assert answer.effective_days_at_20_c == history([0, 1, 2, 3], [4, 6, 8, 10]).effective_days_at_20_c


@pytest.mark.parametrize("wrong", [40.5, -31, math.nan, math.inf])
def test_an_impossible_temperature_is_refused_with_its_row(wrong: float) -> None:
    with pytest.raises(OutOfRange, match=r"row 3: temperature must be -30 to 40 °C") as refusal:
        history([0, 1, 2], [4, 4, wrong])

    assert refusal.value.facts["row"] == 3


def test_a_time_that_is_no_number_is_refused_with_its_row() -> None:
    with pytest.raises(UnreadableReadings, match="row 12"):
        history([0, math.nan], [4, 4], row_numbers=np.array([11, 12]))


@pytest.mark.parametrize(
    ("days", "temperatures"), [([0.0], [4.0]), ([1.0, 1.0], [4.0, 4.0]), ([0.0, 1.0], [4.0])]
)
def test_too_few_readings_are_refused(days: list[float], temperatures: list[float]) -> None:
    with pytest.raises(UnreadableReadings):
        history(days, temperatures)


def test_a_history_of_over_twenty_years_is_refused() -> None:
    with pytest.raises(OutOfRange, match="days"):
        history([0, 8000], [4, 4])


def test_a_gap_of_no_length_is_refused() -> None:
    with pytest.raises(OutOfRange, match="gap_hours"):
        history([0, 1], [4, 4], gap_hours=0.0)
