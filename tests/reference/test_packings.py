"""Packings: the customary factors, and when low oxygen counts as such."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import NotFound, OutOfRange
from service.reference.packings import all_packings, get_packing, packing_used

LOW_OXYGEN = "barrier_low_oxygen"


def test_the_factors_are_those_customary_in_the_trade():
    assert {packing.code: (packing.factor, packing.mark) for packing in all_packings()} == {
        "open": (1.00, "read"),  # M. Garetz 1994, Brewing Techniques 2(1)
        "bale_cloth": (1.00, "common practice, no source"),
        "barrier_air": (0.75, "common practice, no source"),
        "barrier_vacuum": (0.50, "common practice, no source"),
        "barrier_nitrogen": (0.50, "common practice, no source"),
        LOW_OXYGEN: (0.25, "derived"),
    }


# Fitted to Rutnik, Ocvirk, Košir 2023, Plants 12:936: 10 to 35 % lost in two years, cold, without oxygen.
def test_low_oxygen_spans_the_factors_that_fit_the_measured_losses():
    packing = get_packing(LOW_OXYGEN)

    assert (packing.low, packing.high, packing.interval_mark) == (0.11, 0.44, "derived")
    assert packing.source.startswith("fitted, not published")


def test_a_house_interval_is_marked_as_one():
    others = [packing for packing in all_packings() if packing.code != LOW_OXYGEN]

    assert {packing.interval_mark for packing in others} == {"assumption, no source"}


def test_better_packing_never_counts_worse():
    packings = all_packings()

    for better, worse in zip(packings[1:], packings, strict=False):
        assert (better.factor, better.low, better.high) <= (worse.factor, worse.low, worse.high)
    assert all(0 < packing.low < packing.factor < packing.high for packing in packings)


def test_get_packing_refuses_an_unknown_code():
    with pytest.raises(NotFound) as caught:
        get_packing("sack")
    assert caught.value.facts["code"] == "sack"


@given(st.floats(0, 2))
def test_low_oxygen_counts_up_to_two_percent(oxygen_percent):
    used = packing_used(LOW_OXYGEN, residual_oxygen_percent=oxygen_percent)

    assert (used.packing.code, used.reason) == (LOW_OXYGEN, None)


@given(st.floats(2, 21, exclude_min=True))
def test_low_oxygen_above_two_percent_counts_as_nitrogen_and_says_so(oxygen_percent):
    used = packing_used(LOW_OXYGEN, residual_oxygen_percent=oxygen_percent)

    assert (used.named_code, used.packing.code) == (LOW_OXYGEN, "barrier_nitrogen")
    assert "counts as packed under nitrogen" in used.reason
    assert "assumption, no source" in used.reason


def test_low_oxygen_that_nobody_measured_counts_as_nitrogen_and_says_so():
    used = packing_used(LOW_OXYGEN, residual_oxygen_percent=None)

    assert used.packing.code == "barrier_nitrogen"
    assert used.reason == "residual oxygen was not measured, so the lot counts as packed under nitrogen"


@pytest.mark.parametrize("code", ["open", "bale_cloth", "barrier_air", "barrier_vacuum", "barrier_nitrogen"])
def test_other_packings_count_as_named_whatever_the_oxygen(code):
    used = packing_used(code, residual_oxygen_percent=0.5)

    assert (used.named_code, used.packing.code, used.reason) == (code, code, None)


@pytest.mark.parametrize("oxygen_percent", [-0.1, 21.1, float("nan"), float("inf"), True, "2"])
def test_packing_used_refuses_an_oxygen_that_cannot_be(oxygen_percent):
    with pytest.raises(OutOfRange) as caught:
        packing_used(LOW_OXYGEN, residual_oxygen_percent=oxygen_percent)
    assert caught.value.facts["name"] == "residual_oxygen_percent"
