import pytest

from service.errors import OutOfRange
from service.science.interchange import amount_g, duration_minutes, percent_lost


@pytest.mark.parametrize(
    ("value", "unit", "grams"), [(5, "mg", 0.005), (30, "g", 30), (2, "kg", 2000), (1, "lb", 453.59237)]
)
def test_an_amount_comes_out_in_grams(value, unit, grams):
    assert amount_g(value=value, unit=unit) == pytest.approx(grams)


@pytest.mark.parametrize(
    ("value", "unit", "minutes"), [(90, "sec", 1.5), (60, "min", 60), (2, "hr", 120), (1, "week", 10_080)]
)
def test_a_duration_comes_out_in_minutes(value, unit, minutes):
    assert duration_minutes(value=value, unit=unit) == pytest.approx(minutes)


def test_an_unknown_unit_is_refused_with_the_known_ones():
    with pytest.raises(OutOfRange, match="unit must be one of mg, g, kg, lb, oz, not 'stone'"):
        amount_g(value=1, unit="stone")
    with pytest.raises(OutOfRange, match="unit must be one of sec, min, hr, day, week, not 'month'"):
        duration_minutes(value=1, unit="month")


def test_a_storage_index_never_becomes_a_percentage():
    assert percent_lost(lost_in_six_months_percent=None, hop_storage_index=0.3) is None
    assert percent_lost(lost_in_six_months_percent=25, hop_storage_index=None) == 25


@pytest.mark.parametrize("percentage", [10, 35, 80])
def test_a_percentage_sent_as_a_storage_index_is_refused(percentage):
    with pytest.raises(OutOfRange, match=r"hop_storage_index must be 0 to 2\.03"):
        percent_lost(lost_in_six_months_percent=None, hop_storage_index=percentage)


def test_a_loss_over_a_hundred_is_refused():
    with pytest.raises(OutOfRange, match="lost_in_six_months_percent must be 0 to 100 %, not 101"):
        percent_lost(lost_in_six_months_percent=101, hop_storage_index=None)
    with pytest.raises(OutOfRange, match="value must be 0 to"):
        amount_g(value=-1, unit="g")
