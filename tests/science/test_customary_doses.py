import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science import customary_doses as doses

PAIRS = [
    (
        doses.oz_per_us_barrel_from_g_per_hl,
        "dose_g_per_hl",
        doses.g_per_hl_from_oz_per_us_barrel,
        "dose_oz_per_us_barrel",
    ),
    (
        doses.lb_per_us_barrel_from_g_per_hl,
        "dose_g_per_hl",
        doses.g_per_hl_from_lb_per_us_barrel,
        "dose_lb_per_us_barrel",
    ),
]


@pytest.mark.parametrize(("there", "one", "back", "other"), PAIRS, ids=["ounces", "pounds"])
@settings(max_examples=30)
@given(amount=st.floats(0, 10_000))
def test_a_dose_survives_the_round_trip(there, one, back, other, amount):
    assert back(**{other: there(**{one: amount})}) == pytest.approx(amount, rel=1e-12, abs=1e-12)


def test_a_pound_per_barrel_is_sixteen_ounces_per_barrel():
    pound = doses.g_per_hl_from_lb_per_us_barrel(dose_lb_per_us_barrel=1)

    # 453.59237 g in 1.17347765304 hL.
    assert pound == pytest.approx(386.536, abs=0.001)
    assert doses.g_per_hl_from_oz_per_us_barrel(dose_oz_per_us_barrel=16) == pytest.approx(pound)


@pytest.mark.parametrize(("there", "one", "back", "other"), PAIRS, ids=["ounces", "pounds"])
def test_a_negative_dose_is_refused(there, one, back, other):
    for formula, name in ((there, one), (back, other)):
        with pytest.raises(OutOfRange, match=f"{name} must be 0 to"):
            formula(**{name: -1})
