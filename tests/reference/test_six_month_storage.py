"""The six-month estimate: which source it takes, how far it reaches, and what it says of itself."""

import pytest

from service.reference.cultivars import all_cultivars
from service.reference.six_month_storage import six_month_loss
from service.reference.storage_figures import all_storage_figures

NAMES = sorted(
    {row.denomination for row in all_storage_figures()} | {one.denomination for one in all_cultivars()}
)


# USDA-ARS accession 21092 keeps 40 %; the growers' association says 48 to 52 %.
def test_cascade_takes_the_usda_row_and_spans_the_growers_row_too():
    loss = six_month_loss("Cascade")

    assert loss.lost_percent == 60
    assert loss.low_percent <= 48
    assert loss.high_percent >= 60
    assert [row.source_class for row in loss.rows] == ["growers_association", "usda_ars"]
    assert (loss.is_bound, loss.is_assumption) == (False, False)
    assert loss.basis_words == (
        "USDA-ARS: alpha left after 6 months 40 % (USDA-ARS accession 21092, read; Room temperature); "
        "also published: 48 to 52 % (Hop Growers of America variety data, read)"
    )


@pytest.mark.parametrize(
    ("name", "lost_percent"),
    [
        ("Chinook", 32),  # Hop Growers of America, quoted: 68 % left
        ("Nugget", 30),  # Oxford Companion to Beer: nearly 70 % left
        ("Strisselspalt", 35),  # Oxford Companion to Beer: 60 to 70 % left
        ("Horizon", 21.5),  # USDA-ARS accession 21373: 68 to 89 % left
        ("Saaz", 49),  # USDA-ARS accession 21077: 51 % left
        ("Precoce de Bourgogne", 39),  # USDA-ARS accession 21168: 61 % left
        ("YCR Accession No. 5", 19),  # US plant patent PP12404: 18 to 20 % lost
    ],
)
def test_a_published_figure_counts_by_its_middle(name, lost_percent):
    loss = six_month_loss(name)

    assert loss.lost_percent == lost_percent
    assert loss.is_assumption is False


# USDA-ARS accessions 21014 (55 % left) and 56001 (54 %).
def test_two_rows_of_one_source_count_by_their_mean():
    assert six_month_loss("Hallertauer Mittelfrueh").lost_percent == 45.5


# USDA-ARS accession 21670: over 90 % left, so at most 10 % lost.
def test_magnum_stands_at_its_bound_and_says_so():
    loss = six_month_loss("Hallertauer Magnum")

    assert (loss.lost_percent, loss.is_bound) == (10, True)
    assert (loss.low_percent, loss.high_percent) == (1, 18)
    assert "over 90 %" in loss.basis_words
    assert "six_month_loss_bound_reach_percent" in loss.assumptions


# USDA-ARS accession 21507: more than half lost.
def test_centennial_reaches_further_to_the_side_its_bound_leaves_open():
    loss = six_month_loss("Centennial")

    assert (loss.lost_percent, loss.is_bound) == (50, True)
    assert loss.high_percent - loss.lost_percent > loss.lost_percent - loss.low_percent


# A house figure, so nothing published is checked here.
@pytest.mark.parametrize("name", ["Willamette", "Unheard Of", ""])
def test_without_a_row_the_house_default_stands_as_an_assumption(name):
    loss = six_month_loss(name)

    assert (loss.lost_percent, loss.low_percent, loss.high_percent) == (33, 10, 60)
    assert (loss.is_assumption, loss.rows, loss.assumptions) == (True, (), ("six_month_loss_percent",))
    assert "assumption, no source" in loss.basis_words


def test_an_ambiguous_name_falls_to_the_default_and_says_why():
    loss = six_month_loss("Hallertau")

    assert loss.is_assumption is True
    assert loss.basis_words.startswith("Hallertau is a growing region")


def test_a_single_figure_does_not_pass_for_a_certain_one():
    loss = six_month_loss("Fuggle")

    assert (loss.low_percent, loss.lost_percent, loss.high_percent) == (17, 25, 33)
    assert "six_month_loss_half_width_percent" in loss.assumptions


@pytest.mark.parametrize("name", NAMES)
def test_the_interval_spans_every_row_and_stays_between_nothing_and_all(name):
    loss = six_month_loss(name)

    assert 0 < loss.low_percent < loss.lost_percent < loss.high_percent < 100
    for end in (end for row in loss.rows for end in row.lost_percent_ends):
        assert loss.low_percent <= end <= loss.high_percent
