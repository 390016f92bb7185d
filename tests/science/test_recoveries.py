import pytest

from service.errors import OutOfRange
from service.science import recoveries
from service.science.isomerization import iso_alpha_fraction
from service.science.recoveries import beer_share_percent, cold_wort_volume_l, kinetic_utilization_percent


def test_the_kinetic_method_stays_within_its_three_shares():
    iso = iso_alpha_fraction(temperature_c=100, minutes=60)

    used = kinetic_utilization_percent(iso_fraction=iso, kettle_to_wort_percent=90, wort_to_beer_percent=80)

    assert used == pytest.approx(100 * iso * 0.9 * 0.8)
    assert used < 100 * iso


def test_the_published_boil_gives_the_published_share_in_beer():
    # Justus 2018: 44.0 % in wort, 33.7 % lost in the cellar; Kappler 2011: about 30 % reaches the beer.
    share = beer_share_percent(
        wort_share_percent=recoveries.WORT_SHARE_BOIL_60_MINUTES_PERCENT,
        cellar_loss_percent=recoveries.CELLAR_LOSS_PERCENT,
    )

    assert share == pytest.approx(recoveries.ALPHA_IN_BEER_PERCENT, abs=1)


def test_the_published_ranges_are_ranges():
    names = [name for name in vars(recoveries) if name.endswith("_MIN")]

    assert len(names) == 4
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
