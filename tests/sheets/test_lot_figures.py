"""Each figure of the sheet with unit, method, basis, laboratory, who drew the sample, when, from how many packages."""

from datetime import date

import pytest

from service.sheets.lot_figures import figure_lines, published_words
from service.sheets.marks import RangeMark
from service.sheets.words import ENGLISH
from tests.factories import LabReportFactory
from tests.sheets.made import METHODS, analysed, facts_of


def named(lot) -> dict[str, object]:
    """The lines of a lot's figures by their names."""
    return {line.name: line for line in figure_lines(facts_of(lot), ENGLISH)}


def test_figures_come_in_the_order_in_which_a_receiver_checks() -> None:
    assert [(line.name, line.value, line.unit) for line in figure_lines(facts_of(analysed()), ENGLISH)] == [
        ("Moisture", "9.1", "% by weight"),
        ("Alpha acids", "5.4", "% by weight"),
        ("Beta acids", "3.9", "% by weight"),
        ("Cohumulone", "31", "% of alpha"),
        ("Hop Storage Index", "0.27", "A275/A325"),
        ("Total oil", "1.2", "mL/100 g"),
    ]


def test_a_figure_says_where_it_comes_from() -> None:
    line = named(analysed())["Alpha acids"]

    assert line.method == "as is; ASBC Hops-14, HPLC"
    assert line.laboratory == "Quarry Lane Laboratory"
    assert line.sample == "R1: drawn by the grower, 3 Sep 2026; 3 packages cored"


def test_figures_of_several_reports_each_name_their_own() -> None:
    later = LabReportFactory(
        code="R2",
        laboratory="Mill Road Laboratory",
        drawn_by="official",
        sampled_on=date(2026, 10, 1),
        packages_cored=1,
        moisture_percent=9.4,
        alpha_percent=None,
        beta_percent=None,
        hop_storage_index=None,
        oil_ml_per_100g=None,
        methods={"moisture": "ebc_7_2"},
    )
    lot = analysed()
    lines = named(analysed(reports=(*lot.reports, later)))

    assert lines["Moisture"].value == "9.4"
    assert lines["Moisture"].laboratory == "Mill Road Laboratory"
    assert lines["Moisture"].sample == "R2: official sample, 1 Oct 2026; 1 package cored"
    assert lines["Alpha acids"].sample.startswith("R1: ")


def test_a_figure_of_the_dry_basis_is_shown_as_is_and_says_so() -> None:
    lines = named(analysed(report={"basis": "dry", "moisture_percent": 10.0, "alpha_percent": 6.0}))

    # 6 % of dry matter that makes 90 % of the sample.
    assert lines["Alpha acids"].value == "5.4"
    assert lines["Alpha acids"].method == "as is, reported dry; ASBC Hops-14, HPLC"
    assert lines["Moisture"].method == "as is; ASBC Hops-4, moisture"


def test_a_laboratorys_own_deviation_is_told() -> None:
    line = named(analysed(report={"uncertainty": {"alpha_percent": 0.2}}))["Alpha acids"]

    assert line.method == "as is; stated SD 0.2; ASBC Hops-14, HPLC"


def test_another_method_is_described_and_a_missing_one_is_missed() -> None:
    methods = {"alpha_beta": "other"}
    lines = named(
        analysed(
            report={"methods": methods, "method_note": "near infrared", "cohumulone_percent_of_alpha": None}
        )
    )

    assert lines["Alpha acids"].method == "as is; another method: near infrared"
    assert lines["Moisture"].method == "as is; method not stated"


def test_cohumulone_without_a_method_of_its_own_was_read_with_the_acids() -> None:
    methods = {group: code for group, code in METHODS.items() if group != "cohumulone"}

    assert named(analysed(report={"methods": methods}))["Cohumulone"].method == (
        "share of the alpha acids; ASBC Hops-14, HPLC"
    )


def test_what_was_not_measured_is_said_not_to_be() -> None:
    line = named(analysed(report={"oil_ml_per_100g": None, "packages_cored": None}))["Total oil"]

    assert (line.value, line.unit, line.method, line.mark, line.is_measured) == (
        "not measured",
        "",
        "",
        None,
        False,
    )


def test_packages_that_nobody_counted_are_said_to_be_unknown() -> None:
    line = named(analysed(report={"packages_cored": None}))["Moisture"]

    assert line.sample == "R1: drawn by the grower, 3 Sep 2026; packages cored not stated"


def test_a_published_range_is_drawn_with_both_its_ends() -> None:
    line = named(analysed(cultivar="Cascade", cultivar_code="CASCADE"))["Alpha acids"]

    # Hop Growers of America variety data: 4.5 to 7.0 %.
    assert line.mark == RangeMark(
        value=5.4, low=4.5, high=7.0, is_single_mean=False, low_words="4.5", high_words="7"
    )


def test_a_single_published_mean_is_drawn_as_one() -> None:
    line = named(analysed(cultivar="Glacier", cultivar_code="GLACIER"))["Alpha acids"]

    assert line.mark.is_single_mean
    assert line.mark.low == line.mark.high


def test_a_cultivar_that_nobody_knows_has_no_drawn_line() -> None:
    lot = analysed(cultivar="Own Seedling 7", cultivar_code=None)

    assert {line.mark for line in figure_lines(facts_of(lot), ENGLISH)} == {None}
    assert published_words(facts_of(lot), ENGLISH) == ()


def test_the_drawn_lines_name_their_sources() -> None:
    lot = analysed(cultivar="Cascade", cultivar_code="CASCADE")

    assert (
        published_words(facts_of(lot), ENGLISH)[1] == "Published: Hop Growers of America variety data (read)."
    )


@pytest.mark.parametrize("drawn_by", ["grower", "laboratory", "official"])
def test_who_drew_the_sample_is_said(drawn_by: str) -> None:
    line = named(analysed(report={"drawn_by": drawn_by}))["Moisture"]
    words = {
        "grower": "drawn by the grower",
        "laboratory": "drawn by the laboratory",
        "official": "official sample",
    }

    assert words[drawn_by] in line.sample
