"""Six-month storage figures: one row per cultivar and source."""

import pytest

from service.reference.storage_figures import all_storage_figures, storage_figures_of


def test_every_row_lies_between_nothing_and_all():
    ends = [
        end
        for row in all_storage_figures()
        for end in (row.remaining_percent_low, row.remaining_percent_high)
        if end is not None
    ]

    assert min(ends) > 0
    assert max(ends) < 100


def test_the_ends_fit_the_kind():
    ends_by_kind = {
        "mean": lambda low, high: low == high,
        "nearly": lambda low, high: low == high,
        "range": lambda low, high: low < high,
        "lower_bound": lambda low, high: low is not None and high is None,
        "upper_bound": lambda low, high: low is None and high is not None,
    }
    wrong = [
        row
        for row in all_storage_figures()
        if not ends_by_kind[row.kind](row.remaining_percent_low, row.remaining_percent_high)
    ]

    assert wrong == []
    assert {row.kind for row in all_storage_figures()} == set(ends_by_kind)


def test_every_usda_row_names_its_accession_and_stands_once():
    accessions = [row.accession for row in all_storage_figures() if row.source_class == "usda_ars"]

    assert None not in accessions
    assert len(accessions) == len(set(accessions))


# Hop Growers of America variety data: 48 to 52; USDA-ARS accession 21092: 40.
def test_cascade_has_two_sources_that_disagree():
    rows = [
        (row.source_class, row.remaining_percent_low, row.remaining_percent_high)
        for row in storage_figures_of("Cascade")
    ]

    assert rows == [("growers_association", 48, 52), ("usda_ars", 40, 40)]


# USDA-ARS accession 21670: over 90 % left.
def test_a_bound_counts_by_the_bound():
    (row,) = storage_figures_of("Hallertauer Magnum")

    assert (row.is_bound, row.remaining_percent, row.lost_percent_ends) == (True, 90, (10,))


# Mid-points of the published figures (USDA-ARS accession pages; Hop Growers of America for Cascade 48 to 52).
def test_the_keepers_stand_in_the_published_order():
    names = [
        "Cascade",
        "Cluster",
        "Fuggle",
        "Galena",
        "Hallertauer Magnum",
        "Hallertauer Mittelfrueh",
        "Liberty",
        "Northern Brewer",
    ]

    assert sorted(names, key=lambda name: -storage_figures_of(name)[0].remaining_percent) == [
        "Hallertauer Magnum",
        "Cluster",
        "Galena",
        "Northern Brewer",
        "Fuggle",
        "Liberty",
        "Hallertauer Mittelfrueh",
        "Cascade",
    ]


@pytest.mark.parametrize("name", ["Willamette", "Unheard Of", ""])
def test_a_cultivar_without_a_published_figure_has_no_row(name):
    assert storage_figures_of(name) == ()
