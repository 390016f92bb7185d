"""Which figure stands, and how a report is corrected."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import IllegalStep, NotAllowed, NotFound
from service.market.goods.lab_reports import NO_FIGURES, as_is, correct, standing_figures
from tests.factories import LabReportFactory


def report(code: str, day: int, **told: object) -> object:
    """A report of a day in September."""
    return LabReportFactory(code=code, sampled_on=date(2026, 9, day), **told)


def test_each_figure_comes_from_the_latest_sampling_that_measured_it() -> None:
    figures = standing_figures(
        [report("R1", 3, alpha_percent=5.4), report("R2", 9, oil_ml_per_100g=None, alpha_percent=5.0)]
    )

    assert figures.alpha_percent is not None
    assert (figures.alpha_percent.value, figures.alpha_percent.report) == (5.0, "R2")
    assert figures.oil_ml_per_100g is not None
    assert figures.oil_ml_per_100g.report == "R1"
    assert figures.sampled_on == date(2026, 9, 9)


def test_alpha_and_beta_always_come_from_one_report() -> None:
    figures = standing_figures([report("R1", 3, beta_percent=3.9), report("R2", 9, beta_percent=None)])

    assert figures.alpha_percent is not None
    assert figures.alpha_percent.report == "R2"
    assert figures.beta_percent is None


def test_of_two_reports_of_one_day_the_later_filed_counts() -> None:
    figures = standing_figures([report("R9", 3, alpha_percent=5.0), report("R10", 3, alpha_percent=6.0)])

    assert figures.alpha_percent is not None
    assert figures.alpha_percent.report == "R10"


def test_corrected_and_buyers_reports_never_drive_a_figure() -> None:
    reports = [report("R1", 3, corrected_by="R2"), report("R3", 9, drawn_by="buyer")]

    assert standing_figures(reports) == NO_FIGURES
    assert NO_FIGURES.sampled_on is None


def test_figures_on_the_dry_basis_are_answered_as_is() -> None:
    # 12 % as is at 9 % moisture are 13.1868 % of the dry matter (mass balance, derived).
    dry = report("R1", 3, basis="dry", alpha_percent=13.1868, moisture_percent=9.0, hop_storage_index=0.3)

    assert as_is(dry, "alpha_percent") == pytest.approx(12.0, abs=1e-4)
    assert as_is(dry, "hop_storage_index") == 0.3
    assert as_is(report("R2", 3, basis="dry", moisture_percent=None), "alpha_percent") is None


def test_the_laboratorys_own_uncertainty_goes_with_its_figure() -> None:
    figures = standing_figures([report("R1", 3, uncertainty={"alpha_percent": 0.2})])

    assert figures.alpha_percent is not None
    assert figures.alpha_percent.stated_sd == pytest.approx(0.2)
    assert figures.beta_percent is not None
    assert figures.beta_percent.stated_sd is None


def test_shares_of_the_oil_bring_their_basis_and_report() -> None:
    figures = standing_figures(
        [report("R1", 3, oil_shares_percent={"myrcene": 48.0}, oil_shares_basis="peak_area")]
    )

    assert (figures.oil_shares_percent, figures.oil_shares_basis, figures.oil_shares_report) == (
        {"myrcene": 48.0},
        "peak_area",
        "R1",
    )


def test_correct_marks_the_report_it_replaces() -> None:
    old, new = report("R1", 3), report("R2", 3, corrects="R1", reason="exchanged samples")

    reports = correct([old], new)

    assert [(r.code, r.corrected_by) for r in reports] == [("R1", "R2"), ("R2", None)]


def test_a_report_that_corrects_nothing_stands_beside_the_others() -> None:
    assert [r.code for r in correct([report("R1", 3)], report("R2", 3))] == ["R1", "R2"]


@pytest.mark.parametrize(
    ("old", "refusal"),
    [
        ({"code": "R7"}, NotFound),
        ({"drawn_by": "buyer", "filed_for": "brewery:FINCH"}, NotFound),
        ({"filed_for": "grower:ROWAN"}, NotAllowed),
        ({"corrected_by": "R5"}, IllegalStep),
    ],
)
def test_what_cannot_be_corrected_is_refused(old: dict[str, str], refusal: type[Exception]) -> None:
    given = {"code": "R1", **old}

    with pytest.raises(refusal):
        correct([report(day=3, **given)], report("R2", 3, corrects="R1", reason="x"))  # type: ignore[arg-type]


@given(st.lists(st.tuples(st.integers(1, 28), st.integers(0, 9), st.booleans()), min_size=1, max_size=12))
def test_over_any_sequence_of_reports_and_corrections_a_corrected_one_never_drives(
    steps: list[tuple[int, int, bool]],
) -> None:
    """Each step files a report; some correct one of those before, as far as that may be."""
    kept: tuple = ()
    for number, (day, target, corrects) in enumerate(steps, 1):
        named = f"R{1 + target % number}" if corrects and number > 1 else None
        new = report(f"R{number}", day, alpha_percent=float(number), corrects=named)
        try:
            kept = correct(kept, new)
        except (IllegalStep, NotFound):
            kept = correct(kept, report(f"R{number}", day, alpha_percent=float(number)))

    driving = standing_figures(kept).alpha_percent

    corrected = {r.code for r in kept if r.corrected_by is not None}
    assert len(kept) == len(steps)
    assert driving is not None
    assert driving.report not in corrected
    newest = max(r.sampled_on for r in kept if r.corrected_by is None)
    assert driving.sampled_on == newest
