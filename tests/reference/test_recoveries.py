"""Published recoveries: figures beside an estimate, never inside it."""

import pytest

from service.errors import NotFound
from service.reference.recoveries import all_recoveries, get_recovery, recoveries_of


def test_every_code_stands_once():
    codes = [recovery.code for recovery in all_recoveries()]

    assert len(codes) == len(set(codes))


def test_every_figure_lies_where_its_unit_lets_it():
    for recovery in all_recoveries():
        low = recovery.value if recovery.low is None else recovery.low
        high = recovery.value if recovery.high is None else recovery.high
        assert low <= recovery.value <= high
        assert 0 < low <= high <= (100 if recovery.unit.startswith("%") else 300)


# Justus 2018, MBAA Technical Quarterly 55(3):67-74.
@pytest.mark.parametrize(
    ("code", "value"),
    [
        ("wort_boil_60", 44.0),
        ("wort_whirlpool", 29.9),
        ("wort_mash", 9.1),
        ("wort_wet_hop", 8.0),
        ("cellar_loss", 33.7),
    ],
)
def test_the_commercial_recoveries_are_as_published(code, value):
    recovery = get_recovery(code)

    assert (recovery.value, recovery.mark) == (value, "read")
    assert recovery.source == "Justus 2018, MBAA Technical Quarterly 55(3):67-74"


# 44.0 % in wort less 33.7 % in the cellar: near the 30 % of alpha in beer of Kappler 2011.
def test_wort_less_the_cellar_is_near_the_share_found_in_beer():
    in_beer = get_recovery("wort_boil_60").value * (1 - get_recovery("cellar_loss").value / 100)

    assert in_beer == pytest.approx(29.2, abs=0.05)
    assert in_beer == pytest.approx(get_recovery("beer_share").value, abs=1)


# Measured over the ceiling, 48 of 53.3 and 35 mg/L from 5.7 % at 6 lb per US bbl (Maye, MBAA 2015).
def test_the_dissolved_shares_are_the_measured_over_the_ceiling():
    grams_per_l = 6 * 453.59237 / 117.347765

    assert get_recovery("dry_hop_humulinone_dissolved").value == pytest.approx(
        48 / (grams_per_l * 0.23 * 10) * 100, abs=1
    )
    assert get_recovery("dry_hop_alpha_dissolved").value == pytest.approx(
        35 / (grams_per_l * 5.7 * 10) * 100, abs=0.05
    )


def test_recoveries_of_gives_one_topic_alone():
    assert {recovery.topic for recovery in recoveries_of("dry_hop")} == {"dry_hop"}
    assert recoveries_of("tea") == ()


def test_get_recovery_refuses_an_unknown_code():
    with pytest.raises(NotFound) as caught:
        get_recovery("tea")
    assert caught.value.facts == {"code": "tea"}
