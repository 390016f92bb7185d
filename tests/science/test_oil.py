import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.oil import (
    OIL_KEPT_BREWERY_PERCENT,
    OIL_KEPT_PILOT_PERCENT,
    caryophyllene_percent_from_ratio,
    component_ml_per_100g,
    humulene_caryophyllene_ratio,
    oil_dosed_ml_per_hl,
    oil_left_hops_ml_per_hl,
)


@settings(max_examples=50)
@given(st.floats(0, 10_000), st.floats(0, 10), st.floats(0, 100))
def test_no_more_oil_leaves_the_hops_than_was_in_them(dose, content, kept):
    dosed = oil_dosed_ml_per_hl(dose_g_per_hl=dose, oil_ml_per_100g=content)

    left = oil_left_hops_ml_per_hl(dose_g_per_hl=dose, oil_ml_per_100g=content, kept_percent=kept)

    assert 0 <= left <= dosed
    rest = oil_left_hops_ml_per_hl(dose_g_per_hl=dose, oil_ml_per_100g=content, kept_percent=100 - kept)
    assert left + rest == pytest.approx(dosed, rel=1e-9, abs=1e-12)


def test_a_brewery_draws_more_oil_from_hops_than_a_pilot_plant():
    # Hauser et al. 2019: at most 49 and 67 % of the oil leave the hops.
    hops = {"dose_g_per_hl": 100, "oil_ml_per_100g": 1}

    pilot = oil_left_hops_ml_per_hl(**hops, kept_percent=OIL_KEPT_PILOT_PERCENT)
    brewery = oil_left_hops_ml_per_hl(**hops, kept_percent=OIL_KEPT_BREWERY_PERCENT)

    assert (pilot, brewery) == (pytest.approx(0.49), pytest.approx(0.67))


@settings(max_examples=50)
@given(st.floats(0, 100), st.floats(0.1, 100))
def test_ratio_and_share_are_each_others_inverse(humulene, caryophyllene):
    ratio = humulene_caryophyllene_ratio(humulene_percent=humulene, caryophyllene_percent=caryophyllene)

    if 0.01 <= ratio <= 100:
        back = caryophyllene_percent_from_ratio(humulene_percent=humulene, ratio=ratio)
        assert back == pytest.approx(caryophyllene, rel=1e-12)


def test_parts_of_an_oil_add_up_to_it():
    parts = [component_ml_per_100g(oil_ml_per_100g=1.24, share_percent=share) for share in (55, 30, 15)]

    assert sum(parts) == pytest.approx(1.24)


@pytest.mark.parametrize(
    ("formula", "given"),
    [
        (oil_dosed_ml_per_hl, {"dose_g_per_hl": -1, "oil_ml_per_100g": 1}),
        (oil_dosed_ml_per_hl, {"oil_ml_per_100g": 11, "dose_g_per_hl": 1}),
        (oil_left_hops_ml_per_hl, {"kept_percent": 101, "dose_g_per_hl": 1, "oil_ml_per_100g": 1}),
        (component_ml_per_100g, {"share_percent": -1, "oil_ml_per_100g": 1}),
        (humulene_caryophyllene_ratio, {"caryophyllene_percent": 0, "humulene_percent": 10}),
        (caryophyllene_percent_from_ratio, {"ratio": 0, "humulene_percent": 10}),
    ],
    ids=lambda value: getattr(value, "__name__", None),
)
def test_a_figure_outside_its_range_is_refused(formula, given):
    with pytest.raises(OutOfRange) as refused:
        formula(**given)

    assert refused.value.facts["name"] == next(iter(given))
