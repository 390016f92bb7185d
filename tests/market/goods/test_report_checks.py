"""A report that cannot be is refused when it comes in, with every fault named."""

from datetime import date
from typing import Any

import pytest

from service.errors import ConfirmationNeeded, ImpossibleReport, InvalidRequest
from service.market.goods.report_checks import accept_report, read_absorbance
from tests.factories import TODAY, LabReportFactory

HPLC = {"alpha_beta": "asbc_hops_14"}


def accept(form: str = "whole_cone", harvested_on: date | None = date(2026, 8, 29), **told: Any) -> Any:
    """Accept a report, plausible but for what is told."""
    return accept_report(LabReportFactory(**told), form=form, harvested_on=harvested_on, today=TODAY)


def test_a_plausible_report_is_accepted_as_it_is() -> None:
    report = LabReportFactory()

    accepted = accept_report(report, form="whole_cone", harvested_on=date(2026, 8, 29), today=TODAY)

    assert accepted == report


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({"moisture_percent": 3.0}, "moisture_percent"),
        ({"moisture_percent": 20.1}, "moisture_percent"),
        ({"alpha_percent": 60.0, "beta_percent": 41.0}, "alpha_percent"),
        ({"hop_storage_index": 2.04}, "hop_storage_index"),
        ({"hop_storage_index": 34.0}, "hop_storage_index"),
        ({"hop_storage_index": 0.009}, "hop_storage_index"),
        ({"alpha_percent": -0.1}, "alpha_percent"),
        ({"beta_percent": -0.1}, "beta_percent"),
        ({"analysed_on": date(2026, 11, 27)}, "analysed_on"),
        ({"oil_shares_percent": {"myrcene": 101.0}, "oil_shares_basis": "peak_area"}, "myrcene"),
        (
            {"oil_shares_percent": {"myrcene": 60.0, "humulene": 41.0}, "oil_shares_basis": "peak_area"},
            "oil_shares_percent",
        ),
        ({"cohumulone_percent_of_alpha": 101.0}, "cohumulone"),
        ({"sampled_on": date(2026, 8, 28)}, "sampled_on"),
        ({"sampled_on": date(2026, 9, 3), "analysed_on": date(2026, 9, 2)}, "analysed_on"),
        ({"sampled_on": date(2026, 11, 27)}, "sampled_on"),
    ],
    ids=lambda told: str(told)[:40],
)
def test_what_cannot_be_is_refused_by_name(told: dict[str, Any], field: str) -> None:
    with pytest.raises(ImpossibleReport) as refused:
        accept(**told)

    assert field in [fault["field"] for fault in refused.value.facts["faults"]]  # type: ignore[attr-defined]


@pytest.mark.parametrize("moisture_percent", [3.1, 20.0])
def test_moisture_inside_the_bounds_is_accepted(moisture_percent: float) -> None:
    assert accept(moisture_percent=moisture_percent).moisture_percent == moisture_percent


def test_wet_hops_may_be_wet() -> None:
    assert accept(form="wet_hop", moisture_percent=80.0).moisture_percent == 80.0


def test_every_fault_is_named_at_once() -> None:
    with pytest.raises(ImpossibleReport) as refused:
        accept(moisture_percent=2.0, hop_storage_index=3.0, sampled_on=date(2026, 8, 1))

    fields = [fault["field"] for fault in refused.value.facts["faults"]]  # type: ignore[attr-defined]
    assert fields == ["moisture_percent", "hop_storage_index", "sampled_on"]


def test_acids_over_35_percent_want_confirming() -> None:
    with pytest.raises(ConfirmationNeeded) as refused:
        accept(alpha_percent=54.0)

    assert refused.value.facts["limit_percent"] == 35
    assert accept(alpha_percent=54.0, confirmed=True).alpha_percent == 54.0


def test_acids_on_the_dry_basis_are_judged_as_is() -> None:
    # 38.2 % of the dry matter at 9.1 % moisture are 34.7 % as is.
    assert accept(basis="dry", alpha_percent=34.0, beta_percent=4.2).basis == "dry"


@pytest.mark.parametrize(
    ("told", "pointer"),
    [
        ({"methods": {}}, "#/methods/alpha_beta"),
        ({"methods": {"alpha_beta": "asbc_hops_99"}}, "#/methods/alpha_beta"),
        ({"methods": {"alpha_beta": "other"}}, "#/method_note"),
        (
            {"methods": {"alpha_beta": "asbc_hops_6"}, "cohumulone_percent_of_alpha": 30.0},
            "#/cohumulone_percent_of_alpha",
        ),
        ({"basis": "dry", "moisture_percent": None}, "#/moisture_percent"),
        ({"oil_shares_percent": {"myrcene": 40.0}}, "#/oil_shares_basis"),
        ({"corrects": "R1"}, "#/reason"),
        ({"uncertainty": {"cohumulone_percent_of_alpha": 1.0}}, "#/uncertainty/cohumulone_percent_of_alpha"),
    ],
    ids=lambda told: str(told)[:40],
)
def test_what_cannot_be_read_is_refused_by_pointer(told: dict[str, Any], pointer: str) -> None:
    with pytest.raises(InvalidRequest) as refused:
        accept(**told)

    assert pointer in [fault["pointer"] for fault in refused.value.facts["errors"]]  # type: ignore[attr-defined]


def test_a_report_without_any_figure_is_refused() -> None:
    names = ("moisture_percent", "alpha_percent", "beta_percent", "hop_storage_index", "oil_ml_per_100g")

    with pytest.raises(InvalidRequest, match="at least one figure"):
        accept(**dict.fromkeys(names))


READING = {"a275": 0.132, "a325": 0.596, "a355": 0.615}


def spectrum(**told: Any) -> Any:
    """A report of absorbances only."""
    given = {"alpha_percent": None, "beta_percent": None, "hop_storage_index": None}
    return LabReportFactory(**{**given, "methods": {"alpha_beta": "asbc_hops_6"}, **told})


def test_absorbances_become_the_published_acids() -> None:
    # ASBC Methods of Analysis, 8th ed. 1992, Hops-6, worked example (quoted): 6.5 % alpha, 4.3 % beta.
    report = read_absorbance(spectrum(absorbance={**READING, "dilution_factor": 0.66667}))

    assert report.alpha_percent == pytest.approx(6.5, abs=0.05)
    assert report.beta_percent == pytest.approx(4.3, abs=0.05)
    assert report.hop_storage_index == pytest.approx(0.2215, abs=0.0001)
    assert report.methods["hop_storage_index"] == "asbc_hops_6"


def test_a_dilution_is_given_by_its_volumes_too() -> None:
    # The same worked example: 5 g in 100 mL, of that 5 mL to 100 mL, of that 3 mL to 50 mL.
    volumes = {
        "extract_ml": 100,
        "sample_g": 5,
        "volume_a_ml": 100,
        "volume_b_ml": 50,
        "aliquot_extract_ml": 5,
        "aliquot_a_ml": 3,
    }

    report = read_absorbance(spectrum(absorbance={**READING, "dilution": volumes}))

    assert report.alpha_percent == pytest.approx(6.5, abs=0.05)
    assert report.beta_percent == pytest.approx(4.3, abs=0.05)


def test_a_stated_uncertainty_belongs_to_a_figure_of_the_report() -> None:
    assert accept(uncertainty={"alpha_percent": 0.2}).uncertainty == {"alpha_percent": 0.2}


def test_a_report_without_absorbances_stays_as_it_is() -> None:
    report = LabReportFactory()

    assert read_absorbance(report) is report


@pytest.mark.parametrize("dilution", [{}, {"dilution_factor": 1.0, "dilution": {}}])
def test_absorbances_need_one_dilution(dilution: dict[str, Any]) -> None:
    with pytest.raises(InvalidRequest, match="dilution"):
        read_absorbance(spectrum(absorbance={**READING, **dilution}))


def test_absorbances_and_their_figures_are_not_given_both() -> None:
    with pytest.raises(InvalidRequest) as refused:
        read_absorbance(spectrum(alpha_percent=6.5, absorbance={**READING, "dilution_factor": 0.6667}))

    assert refused.value.facts["errors"][0]["pointer"] == "#/alpha_percent"  # type: ignore[index]


@pytest.mark.parametrize(
    ("told", "pointer"), [({"methods": HPLC}, "#/methods/alpha_beta"), ({"basis": "dry"}, "#/basis")]
)
def test_absorbances_belong_to_one_method_and_basis(told: dict[str, Any], pointer: str) -> None:
    report = read_absorbance(spectrum(absorbance={**READING, "dilution_factor": 0.6667}, **told))

    with pytest.raises(InvalidRequest) as refused:
        accept_report(report, form="whole_cone", harvested_on=None, today=TODAY)

    assert pointer in [fault["pointer"] for fault in refused.value.facts["errors"]]  # type: ignore[attr-defined]
