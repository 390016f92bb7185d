"""Readings day by day: cut at midnight, gaps left out, nothing lost."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.temperature_days import factor_integrals, spans_above_20_c, temperature_days
from service.science.temperature_history import temperature_history

HOUR = 3600.0


@given(
    st.lists(st.floats(-30, 40, allow_nan=False), min_size=2, max_size=40),
    st.integers(0, 23),
    st.integers(1, 30),
)
def test_the_days_add_up_to_the_whole_history(temperatures: list[float], began: int, step: int) -> None:
    at_s = (began + step * np.arange(len(temperatures))) * HOUR
    history = temperature_history(at_s=at_s, temperature_c=np.array(temperatures))

    assert sum(day.effective_days_at_20_c for day in history.daily) == pytest.approx(
        history.effective_days_at_20_c, rel=1e-9
    )
    assert sum(day.effective_days_above_20_c for day in history.daily) == pytest.approx(
        history.effective_days_above_20_c, rel=1e-9, abs=1e-12
    )
    assert sum(day.covered_fraction for day in history.daily) == pytest.approx(history.days, rel=1e-9)
    assert min(day.coldest_c for day in history.daily) == min(temperatures)
    assert max(day.hottest_c for day in history.daily) == max(temperatures)
    mean = sum(day.mean_c * day.covered_fraction for day in history.daily) / history.days
    assert mean == pytest.approx(history.mean_c, abs=1e-9)


def test_a_gap_covers_nothing_and_cuts_only_its_own_hours() -> None:
    hours = np.array([0, 6, 12, 18, 24, 96, 102, 108])
    history = temperature_history(at_s=hours * HOUR, temperature_c=np.full(8, 5.0))

    assert [gap.hours for gap in history.gaps] == [72.0]
    assert [(day.day, day.covered_fraction) for day in history.daily] == [(0, 1.0), (4, 0.5)]
    assert history.daily[0].effective_days_at_20_c == pytest.approx(0.5)


def test_a_file_from_before_1970_and_one_that_ends_at_midnight_are_cut_alike() -> None:
    days = temperature_days(at_s=np.array([-36.0, 24.0]) * HOUR, temperature_c=np.array([20.0, 20.0]))

    assert [(day.day, day.covered_fraction) for day in days] == [(-2, 0.5), (-1, 1.0), (0, 1.0)]
    assert all(day.effective_days_above_20_c == 0 for day in days)


def test_a_line_through_20_c_is_split_where_it_crosses() -> None:
    spans, temperatures = np.array([100.0, 50.0]), np.array([10.0, 35.0, 35.0])

    assert spans_above_20_c(spans_s=spans, temperature_c=temperatures).tolist() == [60.0, 50.0]
    whole = factor_integrals(spans_s=spans, temperature_c=temperatures)
    below = factor_integrals(spans_s=np.array([40.0]), temperature_c=np.array([10.0, 20.0]))
    above = factor_integrals(spans_s=np.array([60.0]), temperature_c=np.array([20.0, 35.0]))
    assert whole[0] == pytest.approx(below[0] + above[0])
    assert whole[1] == pytest.approx(100.0)
