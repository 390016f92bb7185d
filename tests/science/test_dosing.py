import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.bitterness import ibu
from service.science.dosing import (
    cost_per_10_ibu_hl,
    mass_g_at_equal_bitterness,
    mass_g_for_share,
    missing_ibu,
)

ALPHAS = st.floats(0.5, 20)


@settings(max_examples=50)
@given(st.floats(0, 10_000), ALPHAS, ALPHAS)
def test_a_swap_keeps_the_bitterness_and_can_be_undone(mass, alpha, other):
    swapped = mass_g_at_equal_bitterness(mass_g=mass, alpha_percent=alpha, other_alpha_percent=other)

    kettle = {"utilization_percent": 20, "volume_l": 100}
    before = ibu(alpha_percent=alpha, mass_g=mass, **kettle)
    assert ibu(alpha_percent=other, mass_g=swapped, **kettle) == pytest.approx(before, rel=1e-12, abs=1e-300)
    back = mass_g_at_equal_bitterness(mass_g=swapped, alpha_percent=other, other_alpha_percent=alpha)
    assert back == pytest.approx(mass, rel=1e-12, abs=1e-300)


def test_shares_add_up_to_the_whole():
    beer = {"total_ibu": 40, "utilization_percent": 23, "volume_l": 1000}
    masses = [mass_g_for_share(share_percent=share, alpha_percent=8, **beer) for share in (30, 70)]

    given = [ibu(utilization_percent=23, alpha_percent=8, mass_g=mass, volume_l=1000) for mass in masses]

    assert given == pytest.approx([12, 28])


def test_a_cost_is_the_price_of_the_hops_for_ten_ibu_in_a_hectolitre():
    bitter = ibu(utilization_percent=25, alpha_percent=10, mass_g=40, volume_l=100)

    assert bitter == pytest.approx(10)
    assert cost_per_10_ibu_hl(price_per_kg=20, utilization_percent=25, alpha_percent=10) == pytest.approx(0.8)


def test_missing_ibu_refuses_a_beer_that_is_bitter_enough():
    with pytest.raises(OutOfRange, match="the other additions give 36 IBU already, 35 IBU are wanted"):
        missing_ibu(wanted_ibu=35, given_ibu=36)
    assert missing_ibu(wanted_ibu=35, given_ibu=35) == 0


@pytest.mark.parametrize(
    ("formula", "given", "named"),
    [
        (
            mass_g_at_equal_bitterness,
            {"mass_g": 1, "alpha_percent": 5, "other_alpha_percent": 0},
            "other_alpha_percent",
        ),
        (
            mass_g_for_share,
            {
                "total_ibu": 40,
                "share_percent": 101,
                "utilization_percent": 20,
                "alpha_percent": 5,
                "volume_l": 1,
            },
            "share_percent",
        ),
        (
            cost_per_10_ibu_hl,
            {"price_per_kg": -1, "utilization_percent": 25, "alpha_percent": 10},
            "price_per_kg",
        ),
        (missing_ibu, {"wanted_ibu": -1, "given_ibu": 0}, "wanted_ibu"),
    ],
)
def test_a_figure_outside_its_range_is_refused(formula, given, named):
    with pytest.raises(OutOfRange) as refused:
        formula(**given)

    assert refused.value.facts["name"] == named
