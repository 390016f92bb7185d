"""Samples sorted by hand, against published arithmetic and another library."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from service.errors import OutOfRange
from service.science.sorting import (
    _score_interval,
    cone_shares_percent,
    effective_cones,
    share_estimate_percent,
    sorted_percent,
)


@pytest.mark.parametrize(("part_g", "percent"), [(9.5, 3.8), (6.25, 2.5), (3.0, 1.2), (231.25, 92.5)])
def test_parts_of_a_sorted_sample_are_shares_of_its_mass(part_g: float, percent: float) -> None:
    """A sample of 250 g, sorted as in Annex II C of Regulation (EC) 1850/2006; the figures are arithmetic."""
    assert sorted_percent(part_g=part_g, sample_g=250) == pytest.approx(percent)


@pytest.mark.parametrize(
    ("found", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_score_interval_is_the_published_one(found: int, of: int, low: float, high: float) -> None:
    """R. G. Newcombe 1998, Statistics in Medicine 17:857-872, table I, method 3, 95 %."""
    made = _score_interval(found / of, of, 1.959964)

    assert (made.low / 100, made.high / 100) == pytest.approx((low, high), abs=5e-5)


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_of_whole_cones_the_interval_is_that_of_another_library(sample: tuple[int, int]) -> None:
    found, of = sample
    other = binomtest(found, of).proportion_ci(confidence_level=0.9, method="wilson")

    made = share_estimate_percent(share_percent=100 * found / of, count=of)

    assert made.low == pytest.approx(100 * other.low, abs=1e-9)
    assert made.high == pytest.approx(100 * other.high, abs=1e-9)


@given(
    st.dictionaries(st.sampled_from("abcde"), st.floats(0, 500), min_size=1).filter(
        lambda masses: math.fsum(masses.values()) >= 0.001
    ),
    st.floats(1, 5000),
    st.floats(0, 300),
)
def test_shares_add_up_and_lie_inside_their_intervals(
    masses_g: dict[str, float], cones: float, cv_percent: float
) -> None:
    shares = cone_shares_percent(masses_g=masses_g, cones=cones, cone_mass_cv_percent=cv_percent)

    assert math.fsum(share.estimate for share in shares.values()) == pytest.approx(100)
    for share in shares.values():
        assert 0 <= share.low <= share.estimate <= share.high <= 100


def test_unequal_cones_tell_less_than_equal_ones() -> None:
    assert effective_cones(cones=100, cone_mass_cv_percent=0) == 100
    assert effective_cones(cones=100, cone_mass_cv_percent=50) == pytest.approx(80)
    masses = {"ripe": 80.0, "over_ripe": 20.0}
    alike = cone_shares_percent(masses_g=masses, cones=200, cone_mass_cv_percent=0)["ripe"]
    unlike = cone_shares_percent(masses_g=masses, cones=200, cone_mass_cv_percent=80)["ripe"]
    assert unlike.low < alike.low < 80 < alike.high < unlike.high


@pytest.mark.parametrize(
    ("part_g", "sample_g", "name"), [(5, 0, "sample_g"), (51, 50, "part_g"), (-1, 50, "part_g")]
)
def test_a_part_over_its_whole_is_refused(part_g: float, sample_g: float, name: str) -> None:
    with pytest.raises(OutOfRange) as refused:
        sorted_percent(part_g=part_g, sample_g=sample_g)
    assert refused.value.facts["name"] == name


def test_cones_that_weigh_nothing_have_no_shares() -> None:
    with pytest.raises(OutOfRange, match="together"):
        cone_shares_percent(masses_g={"ripe": 0.0}, cones=10, cone_mass_cv_percent=50)
