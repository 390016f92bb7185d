"""Mass balance of moisture: round trips and refusals; the published cases stand in the published checks."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import OutOfRange
from service.science.moisture import (
    as_is_percent_from_dry,
    bag_reading_g,
    dried_weight_kg,
    dry_matter_percent,
    dry_percent_from_as_is,
    moisture_now_percent,
    percent_at_moisture,
    wet_dry_ratio,
)

moistures = st.floats(0, 85)
values = st.floats(0, 14)


@given(value=values, first=moistures, second=moistures)
def test_restating_there_and_back_changes_nothing(value: float, first: float, second: float) -> None:
    there = percent_at_moisture(
        value_percent=value, sample_moisture_percent=first, wanted_moisture_percent=second
    )

    back = percent_at_moisture(
        value_percent=there, sample_moisture_percent=second, wanted_moisture_percent=first
    )
    assert back == pytest.approx(value, abs=1e-12)


@given(value=values, moisture=moistures)
def test_the_dry_basis_goes_there_and_back(value: float, moisture: float) -> None:
    dry = dry_percent_from_as_is(as_is_percent=value, moisture_percent=moisture)

    assert dry >= value
    assert as_is_percent_from_dry(dry_percent=dry, moisture_percent=moisture) == pytest.approx(
        value, abs=1e-12
    )


@given(green_g=st.floats(10, 5000), green=st.floats(60, 90), dry=st.floats(5, 50), bag_g=st.floats(0, 500))
def test_the_bag_tells_the_moisture_it_was_read_at(
    green_g: float, green: float, dry: float, bag_g: float
) -> None:
    reading_g = bag_reading_g(
        green_g=green_g, green_moisture_percent=green, dry_moisture_percent=dry, bag_g=bag_g
    )

    now = moisture_now_percent(
        green_g=green_g, green_moisture_percent=green, bag_g=bag_g, reading_g=reading_g
    )
    assert now == pytest.approx(dry, abs=1e-9)


@given(green=st.floats(60, 90), dry=st.floats(5, 50))
def test_dried_weight_times_the_ratio_is_the_green_weight(green: float, dry: float) -> None:
    moisture = {"green_moisture_percent": green, "dry_moisture_percent": dry}

    assert dried_weight_kg(green_kg=100, **moisture) * wet_dry_ratio(**moisture) == pytest.approx(100)


def test_a_content_over_the_dry_matter_is_refused() -> None:
    with pytest.raises(OutOfRange, match="value_percent must be 0 to 20 %, not 21"):
        percent_at_moisture(value_percent=21, sample_moisture_percent=80, wanted_moisture_percent=0)


def test_drying_to_the_same_moisture_is_refused() -> None:
    with pytest.raises(OutOfRange, match="not drier"):
        wet_dry_ratio(green_moisture_percent=10, dry_moisture_percent=10)


@pytest.mark.parametrize(
    "call",
    [
        lambda: percent_at_moisture(value_percent=5, sample_moisture_percent=100, wanted_moisture_percent=0),
        lambda: percent_at_moisture(
            value_percent=5, sample_moisture_percent=9, wanted_moisture_percent=math.nan
        ),
        lambda: dry_matter_percent(tare_g=12, green_g=10, dry_g=12),
        lambda: dry_matter_percent(tare_g=12, green_g=50, dry_g=51),
        lambda: dry_matter_percent(tare_g=12, green_g=12, dry_g=12),
        lambda: dried_weight_kg(green_kg=-1, green_moisture_percent=80, dry_moisture_percent=10),
        lambda: moisture_now_percent(green_g=500, green_moisture_percent=78, bag_g=42, reading_g=151),
        lambda: moisture_now_percent(green_g=500, green_moisture_percent=78, bag_g=42, reading_g=543),
        lambda: moisture_now_percent(green_g=0, green_moisture_percent=78, bag_g=42, reading_g=42),
    ],
)
def test_weights_and_moistures_that_cannot_be_are_refused(call: object) -> None:
    assert callable(call)
    with pytest.raises(OutOfRange):
        call()
