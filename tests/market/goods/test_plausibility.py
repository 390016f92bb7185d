"""Unusual figures are flagged with their source, never refused."""

import pytest

from service.market.goods.lab_reports import standing_figures
from service.market.goods.plausibility import flags_of
from tests.factories import LabReportFactory


def codes(form: str = "whole_cone", cultivar_code: str | None = None, **told: object) -> list[str]:
    """The codes of the flags of a report that is plausible but for what is told."""
    figures = standing_figures([LabReportFactory(code="R1", **told)])
    return [flag.code for flag in flags_of(figures, form=form, cultivar_code=cultivar_code)]


@pytest.mark.parametrize(
    ("moisture_percent", "expected"),
    [(6.0, ["moisture-low"]), (6.1, []), (12.0, []), (12.1, ["moisture-high"])],
)
def test_moisture_is_cautioned_at_6_and_over_12_percent(moisture_percent: float, expected: list[str]) -> None:
    # MSU Extension, Drying hops on a small scale (read): 8 to 10 % is the target, at 6 % and under cones shatter.
    assert codes(moisture_percent=moisture_percent) == expected


def test_flags_name_their_source() -> None:
    figures = standing_figures([LabReportFactory(moisture_percent=12.5)])

    (flag,) = flags_of(figures, form="whole_cone", cultivar_code=None)

    assert (bool(flag.source), flag.mark, "12 %" in flag.words) == (True, "read", True)


def test_wet_hops_are_not_cautioned_for_being_wet() -> None:
    assert codes(form="wet_hop", moisture_percent=80.0, oil_ml_per_100g=None) == []


def test_an_index_under_the_baseline_is_flagged() -> None:
    # ASBC Hops-6 worked example (quoted): its index is 0.2215, under 0.25.
    assert codes(hop_storage_index=0.2215) == ["hop-storage-index-low"]
    assert codes(hop_storage_index=0.25) == []


def test_oil_is_asked_for() -> None:
    assert codes(oil_ml_per_100g=None) == ["oil-not-measured"]


@pytest.mark.parametrize(
    ("alpha_percent", "expected"),
    [(2.0, []), (1.9, ["outside-published-range"]), (9.5, []), (9.6, ["outside-published-range"])],
)
def test_a_figure_further_out_than_the_range_is_wide_is_flagged(
    alpha_percent: float, expected: list[str]
) -> None:
    # Cascade, alpha 4.5 to 7 % (growers' association, read): flagged under 2.0 and over 9.5.
    found = codes(cultivar_code="CASCADE", alpha_percent=alpha_percent, beta_percent=5.0)

    assert found == expected


def test_a_single_published_mean_flags_nothing() -> None:
    # Centennial's oil is one mean of 2.83 mL/100 g (USDA-ARS accession 21507, read), no range.
    assert codes(cultivar_code="CENTENNIAL", alpha_percent=10.0, oil_ml_per_100g=0.3) == []
