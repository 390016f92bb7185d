"""Two reports on one lot: explained by scatter, or not, and never a verdict on a person."""

from datetime import date
from typing import Any

import pytest

from service.errors import InvalidRequest, NotFound
from service.facts import replace
from service.market.storage.report_comparison import ReportComparison, compare_reports
from service.reference.six_month_storage import six_month_loss
from tests.factories import LabReportFactory, ListedLotFactory, SpellFactory


def compared(first: dict[str, Any], second: dict[str, Any], **lot: Any) -> ReportComparison:
    reports = (LabReportFactory(code="R1", **first), LabReportFactory(code="R2", **second))
    told = ListedLotFactory(reports=reports, **lot)
    return compare_reports(told, ("R1", "R2"), loss=six_month_loss(told.cultivar))


def figure(comparison: ReportComparison, name: str) -> Any:
    return next(f for f in comparison.figures if f.name == name)


def test_the_scatter_of_cored_bales_explains_a_tenth() -> None:
    comparison = compared({}, {"drawn_by": "buyer", "alpha_percent": 4.9})

    alpha = figure(comparison, "alpha_percent")
    assert alpha.agreement.is_explained
    assert "neither report is wrong" in comparison.words


def test_half_the_alpha_is_more_than_scatter_explains_and_accuses_nobody() -> None:
    comparison = compared({}, {"drawn_by": "buyer", "alpha_percent": 2.4})

    alpha = figure(comparison, "alpha_percent")
    assert not alpha.agreement.is_explained
    assert "not who is wrong" in comparison.words
    assert "alpha_percent" in comparison.words


def test_ageing_between_the_samplings_is_reckoned_in() -> None:
    warm = {"spells": (SpellFactory(packing="open", stored_at_c=20.0),)}
    later = {"sampled_on": date(2026, 11, 20), "alpha_percent": 4.0, "hop_storage_index": 0.42}

    aged = compared({}, later, **warm)
    fresh = compared({}, {**later, "sampled_on": date(2026, 9, 3)}, **warm)

    assert figure(aged, "alpha_percent").agreement.expected.estimate < 5.4
    assert figure(fresh, "alpha_percent").agreement.expected.estimate == 5.4
    assert figure(aged, "hop_storage_index").agreement.expected.estimate > 0.27
    assert abs(figure(aged, "alpha_percent").agreement.standard_score) < abs(
        figure(fresh, "alpha_percent").agreement.standard_score
    )
    assert aged.days_between == 78


def test_methods_that_read_differently_are_not_compared() -> None:
    lead = {"methods": {"alpha_beta": "ebc_7_5", "oil": "asbc_hops_13"}}

    alpha = figure(compared({}, lead), "alpha_percent")

    assert alpha.agreement is None
    assert "read differently" in alpha.words
    assert (alpha.first_method, alpha.second_method) == ("asbc_hops_14", "ebc_7_5")


def test_a_figure_of_one_report_alone_is_shown_and_not_judged() -> None:
    oil = figure(compared({}, {"oil_ml_per_100g": None}), "oil_ml_per_100g")

    assert (oil.first, oil.second, oil.agreement) == (1.2, None, None)


def test_figures_on_different_bases_are_brought_to_the_sample_as_it_was() -> None:
    dry = compared({}, {"basis": "dry", "alpha_percent": 5.4 / 0.909, "beta_percent": 3.9 / 0.909})

    assert figure(dry, "alpha_percent").second == pytest.approx(5.4)


def test_the_earlier_sampled_report_comes_first_whatever_its_code() -> None:
    comparison = compared({"sampled_on": date(2026, 10, 3)}, {"sampled_on": date(2026, 9, 3)})

    assert (comparison.first, comparison.second) == ("R2", "R1")


def test_what_it_rests_on_is_named() -> None:
    comparison = compared({"packages_cored": None}, {})

    said = " ".join(comparison.assumptions)
    assert "between laboratories" in said
    assert "no source" in said
    assert len(comparison.assumptions) == len(set(comparison.assumptions))


def test_a_report_is_compared_with_another_one_that_exists() -> None:
    lot = ListedLotFactory()
    loss = six_month_loss(lot.cultivar)

    with pytest.raises(InvalidRequest):
        compare_reports(lot, ("R1", "R1"), loss=loss)
    with pytest.raises(NotFound):
        compare_reports(lot, ("R1", "R9"), loss=loss)
    with pytest.raises(NotFound):
        compare_reports(replace(lot, reports=()), ("R1", "R2"), loss=loss)


def test_cones_and_the_pellets_made_of_them_are_not_compared() -> None:
    comparison = compared({"before_pelletizing": True}, {"alpha_percent": 4.0}, form="pellet")

    assert all(f.agreement is None for f in comparison.figures)
    assert "before pelletizing" in figure(comparison, "alpha_percent").words
