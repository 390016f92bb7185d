"""Spread of a grower's lots, against general statistics libraries and by simulation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.errors import OutOfRange
from service.science.consistency import MAD_TO_SD, robust_spread, year_and_lot_effect

FIGURES = st.lists(st.floats(0.1, 30), min_size=2, max_size=30)


def test_the_factor_is_the_librarys() -> None:
    assert pytest.approx(1 / stats.norm.ppf(0.75), rel=1e-12) == MAD_TO_SD


@given(FIGURES)
def test_the_spread_is_the_librarys(values: list[float]) -> None:
    spread = robust_spread(values=values)

    assert spread.robust_sd == pytest.approx(stats.median_abs_deviation(values, scale="normal"), rel=1e-9)
    assert spread.least <= spread.median <= spread.largest


def test_one_odd_lot_hardly_moves_the_spread() -> None:
    plain = robust_spread(values=[5.0, 5.2, 5.4, 5.6, 5.8])
    odd = robust_spread(values=[5.0, 5.2, 5.4, 5.6, 58.0])

    assert (odd.median, odd.robust_sd) == (plain.median, pytest.approx(plain.robust_sd))


@pytest.mark.parametrize("groups", [[[5.0, 5.2], [6.0, 6.4, 6.1]], [[1.0], [2.0, 2.5], [9.0, 8.0, 7.5, 8.2]]])
def test_the_two_mean_squares_are_those_of_the_librarys_analysis_of_variance(
    groups: list[list[float]],
) -> None:
    """scipy.stats.f_oneway gives F = MS between / MS within."""
    values = [value for group in groups for value in group]
    years = [2020 + k for k, group in enumerate(groups) for _ in group]
    count = len(values)
    n0 = (count - sum(len(g) ** 2 for g in groups) / count) / (len(groups) - 1)

    effect = year_and_lot_effect(values=values, crop_years=years)

    within = effect.lot_sd**2
    assert (effect.year_variance * n0 + within) / within == pytest.approx(stats.f_oneway(*groups).statistic)
    assert within == pytest.approx(
        sum((len(g) - 1) * np.var(g, ddof=1) for g in groups if len(g) > 1) / (count - len(groups))
    )


def test_simulated_years_and_lots_are_told_apart() -> None:
    """Of many regions with years that scatter by 0.8 and lots by 0.4 both come back without bias."""
    rng = np.random.default_rng(20261126)
    years_of_lots = [2023] * 3 + [2024] * 5 + [2025] * 2 + [2026] * 4
    found = []
    for _ in range(1500):
        by_year = dict(zip(range(2023, 2027), rng.normal(6, 0.8, 4), strict=True))
        values = [by_year[year] + rng.normal(0, 0.4) for year in years_of_lots]
        effect = year_and_lot_effect(values=values, crop_years=years_of_lots)
        found.append((effect.year_variance, effect.lot_sd**2))

    years, lots = np.mean(found, axis=0)
    assert years == pytest.approx(0.64, rel=0.06)
    assert lots == pytest.approx(0.16, rel=0.03)


def test_years_that_differ_by_less_than_their_lots_are_said_to_be_hidden() -> None:
    effect = year_and_lot_effect(values=[5.0, 6.0, 5.1, 5.9], crop_years=[2025, 2025, 2026, 2026])

    assert (effect.year_sd, effect.is_year_effect_hidden) == (0.0, True)
    assert effect.year_variance < 0


@given(FIGURES, st.floats(-5, 5), st.floats(0.1, 10))
def test_shifting_moves_the_middle_and_scaling_the_spread(
    values: list[float], shift: float, scale: float
) -> None:
    spread = robust_spread(values=values)
    moved = robust_spread(values=[scale * value + shift for value in values])

    assert moved.median == pytest.approx(scale * spread.median + shift, abs=1e-6)
    assert moved.robust_sd == pytest.approx(scale * spread.robust_sd, abs=1e-6)


@pytest.mark.parametrize(
    ("values", "years"),
    [
        ([5.0], [2025]),
        ([5.0, 6.0], [2025, 2025]),
        ([5.0, 6.0], [2025, 2026]),
        ([5.0, 6.0, 7.0], [2025, 2026]),
    ],
)
def test_too_little_says_nothing(values: list[float], years: list[int]) -> None:
    with pytest.raises(OutOfRange):
        year_and_lot_effect(values=values, crop_years=years)
