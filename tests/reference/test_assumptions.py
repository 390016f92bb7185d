"""House assumptions: named once, with an interval, and marked for what they are."""

import math
import re

import pytest

from service.errors import NotFound
from service.reference.assumptions import all_assumptions, get_assumption, sampling_cv
from service.reference.load import load_table
from service.reference.recoveries import get_recovery, recoveries_of


def test_every_name_stands_once():
    names = [assumption.name for assumption in all_assumptions()]

    assert len(names) == len(set(names))


def test_every_value_lies_inside_its_interval():
    outside = [
        one.name for one in all_assumptions() if not one.low <= one.value <= one.high or one.low == one.high
    ]

    assert outside == []


def test_what_is_not_an_assumption_names_its_source():
    sourced = {one.name: one.mark for one in all_assumptions() if one.mark != "assumption, no source"}

    assert sourced == {
        "sampling_cv_whole_cone_percent": "quoted",
        "dry_hop_moisture_percent": "derived",
        "wet_hop_moisture_percent": "derived",
        "humulinone_content_percent": "derived",
        "published_myrcene_ratio": "derived",
        "wet_hop_utilization_ratio": "derived",
        "kinetic_fall_per_gravity": "derived",
        "wort_to_beer_percent": "derived",
    }


def test_the_words_take_their_figures_from_the_row():
    # A figure that is written out would still stand there after the row is changed.
    kept_twice = [
        row.text("name")
        for row in load_table("assumptions", has_unit=True)
        for figure in re.findall(r"\d+(?:\.\d+)?", re.sub(r"\{[^}]*\}", "", row.text("words")))
        if float(figure) in {row.number(name) for name in ("value", "low", "high")}
    ]

    assert kept_twice == []
    assert "0.70 to 1.40 times" in get_assumption("tinseth_model_spread_ratio").words


def test_wet_hops_centre_on_what_was_published():
    # Justus 2018: 8.0 % of the alpha in wort from wet hops, 29.9 from whirlpool hops, 44.0 from an hour of boil.
    wet, whirlpool, boil = (
        get_recovery(code).value for code in ("wort_wet_hop", "wort_whirlpool", "wort_boil_60")
    )
    ratio = get_assumption("wet_hop_utilization_ratio")

    assert ratio.value == pytest.approx(wet / whirlpool, abs=0.005)
    assert ratio.low == pytest.approx(wet / boil, abs=0.005)


def test_the_share_that_reaches_the_beer_is_what_fermentation_and_filter_leave():
    # Nielsen, and a filter of 1 um, both collected by J.-P. Hosom (second hand).
    fermentation, filtered = (get_recovery(code).value for code in ("fermentation_loss", "filter_loss"))

    left = 100 * (1 - fermentation / 100) * (1 - filtered / 100)

    assert get_assumption("wort_to_beer_percent").value == pytest.approx(left, abs=0.5)


def test_the_fall_with_gravity_is_that_of_the_published_worts():
    # McMurrough, collected by J.-P. Hosom (second hand); 50 % left at 1.074, second hand.
    first, second, _, last = (one.value for one in recoveries_of("gravity")[:4])
    fall = get_assumption("kinetic_fall_per_gravity")

    assert fall.value == pytest.approx(math.log(first / last) / 0.059, abs=0.05)
    assert fall.low == pytest.approx(math.log(second / last) / 0.043, abs=0.05)
    assert fall.high == pytest.approx(-math.log(get_recovery("recovered_1074").value / 100) / 0.074, abs=0.05)


# Verzele & De Keukeleire, p. 331, second hand: alpha varies 15 to 20 % between and within bales.
def test_whole_cones_scatter_as_quoted():
    scatter = sampling_cv(quantity="alpha", form="whole_cone")

    assert (scatter.low, scatter.value, scatter.high, scatter.mark) == (15, 17.5, 20, "quoted")


# D. Brown, MSU Extension 2013-09-16: 76 to 84 % water at picking, 8 to 10 % in store.
def test_moistures_are_the_middle_of_what_was_read():
    wet, dry = get_assumption("wet_hop_moisture_percent"), get_assumption("dry_hop_moisture_percent")

    assert (wet.low, wet.value, wet.high) == (76, 80, 84)
    assert (dry.low, dry.value, dry.high) == (8, 9, 10)


@pytest.mark.parametrize("form", ["whole_cone", "pellet", "pellet_enriched", "wet_hop"])
@pytest.mark.parametrize("quantity", ["alpha", "beta", "cohumulone", "hop_storage_index", "oil", "moisture"])
def test_sampling_cv_knows_every_quantity_in_every_form(quantity, form):
    assert 0 < sampling_cv(quantity=quantity, form=form).value < 30


@pytest.mark.parametrize("quantity", ["alpha", "hop_storage_index", "oil", "moisture"])
def test_a_homogenised_run_scatters_less_than_cones(quantity):
    pellet = sampling_cv(quantity=quantity, form="pellet").value

    assert pellet < sampling_cv(quantity=quantity, form="whole_cone").value
    assert pellet == sampling_cv(quantity=quantity, form="pellet_enriched").value


def test_sampling_cv_refuses_an_unknown_form():
    with pytest.raises(NotFound):
        sampling_cv(quantity="alpha", form="extract")


def test_get_assumption_refuses_an_unknown_name():
    with pytest.raises(NotFound) as caught:
        get_assumption("luck")
    assert caught.value.facts == {"name": "luck"}


# USDA-ARS accessions 21670 and 21014 against German figures of the same two cultivars.
def test_myrcene_of_the_two_traditions_differs_about_twofold():
    ratio = get_assumption("published_myrcene_ratio")

    assert (ratio.low, ratio.value, ratio.high) == (0.5, 1.0, 2.0)
    for american, german in ((60.5, 31.2), (38.0, 17.5)):
        assert american / german == pytest.approx(ratio.high, rel=0.1)
