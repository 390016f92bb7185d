import pytest

from service.errors import OutOfRange
from service.reference.recoveries import get_recovery
from service.science import recoveries
from service.science.isomerization import iso_alpha_fraction
from service.science.recoveries import (
    beer_share_percent,
    cold_wort_volume_l,
    kettle_to_wort_percent,
    kinetic_utilization_percent,
)


def test_the_kinetic_method_stays_within_its_three_shares():
    iso = iso_alpha_fraction(temperature_c=100, minutes=60)

    used = kinetic_utilization_percent(iso_fraction=iso, kettle_to_wort_percent=90, wort_to_beer_percent=80)

    assert used == pytest.approx(100 * iso * 0.9 * 0.8)
    assert used < 100 * iso


def test_the_published_boil_gives_the_published_share_in_beer():
    # Justus 2018: 44.0 % in wort, 33.7 % lost in the cellar; Kappler 2011: about 30 % reaches the beer.
    share = beer_share_percent(
        wort_share_percent=get_recovery("wort_boil_60").value,
        cellar_loss_percent=get_recovery("cellar_loss").value,
    )

    assert share == pytest.approx(get_recovery("beer_share").value, abs=1)


def test_the_recovery_falls_with_gravity_like_the_published_worts():
    # McMurrough: 57, 47, 45, 43 % at 1.024, 1.040, 1.061, 1.083 (quoted, second hand).
    first, last = (kettle_to_wort_percent(gravity_sg=gravity) for gravity in (1.024, 1.083))

    assert last / first == pytest.approx(43 / 57, rel=0.01)


def test_the_recovery_keeps_within_other_published_rules():
    # At 1.075 four published rules give 0.8 to 0.9 of the value at 1.050 (quoted).
    ratio = kettle_to_wort_percent(gravity_sg=1.075) / kettle_to_wort_percent(gravity_sg=1.050)

    assert 0.8 <= ratio <= 0.9


def test_water_holds_nothing_back():
    assert kettle_to_wort_percent(gravity_sg=1.0) == 100


def test_the_published_ranges_are_ranges():
    names = [name for name in vars(recoveries) if name.endswith("_MIN")]

    assert len(names) == 2
    for name in names:
        low, high = getattr(recoveries, name), getattr(recoveries, name[:-3] + "MAX")
        assert 0 < low < high < 100


def test_cold_wort_is_more_than_the_beer_by_what_is_lost():
    assert cold_wort_volume_l(beer_volume_l=900, wort_lost_percent=10) == pytest.approx(1000)
    assert cold_wort_volume_l(beer_volume_l=900, wort_lost_percent=0) == 900


@pytest.mark.parametrize("name", ["iso_fraction", "kettle_to_wort_percent", "wort_to_beer_percent"])
def test_a_share_over_the_whole_is_refused(name):
    shares = {"iso_fraction": 0.4, "kettle_to_wort_percent": 90, "wort_to_beer_percent": 80}

    with pytest.raises(OutOfRange, match=f"{name} must be 0 to"):
        kinetic_utilization_percent(**{**shares, name: 101})
