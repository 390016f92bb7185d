"""What a lab report says, and which figure stands."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from service.errors import IllegalStep, NotAllowed, NotFound
from service.facts import Fact, field, replace
from service.market.goods.lab_quantities import LAB_NAMES, QUANTITY_OF
from service.reference.methods import methods_of
from service.science.moisture import percent_at_moisture

ALPHA_METHODS = tuple(method.code for method in methods_of("alpha_beta"))
BASES = ("as_is", "dry")
DRAWN_BY = ("grower", "laboratory", "official", "buyer")


class LabReport(Fact, frozen=True, kw_only=True):
    """One report, as the laboratory wrote it; `basis` governs what `lab_quantities` states of the sample.

    One marked `before_pelletizing` is of the cones that a lot of pellets was made of: shown, never the pellets' figures.
    """

    code: str = ""
    laboratory: str
    drawn_by: str
    sampled_on: date
    analysed_on: date
    packages_cored: int | None = None
    basis: str = "as_is"
    moisture_percent: float | None = None
    alpha_percent: float | None = None
    beta_percent: float | None = None
    cohumulone_percent_of_alpha: float | None = None
    hop_storage_index: float | None = None
    oil_ml_per_100g: float | None = None
    oil_shares_percent: Mapping[str, float] | None = None
    oil_shares_basis: str | None = None
    absorbance: Mapping[str, Any] | None = None
    uncertainty: Mapping[str, float] | None = None
    methods: Mapping[str, str] = field(default_factory=dict)
    method_note: str | None = None
    corrects: str | None = None
    reason: str | None = None
    corrected_by: str | None = None
    confirmed: bool = False
    before_pelletizing: bool = False
    filed_at: datetime | None = None
    filed_by: str = ""
    filed_for: str = ""

    @property
    def is_standing(self) -> bool:
        """Whether it may drive figures: not corrected, not a buyer's own, and not of what became the goods."""
        return self.corrected_by is None and self.drawn_by != "buyer" and not self.before_pelletizing


class Measured(Fact, frozen=True, kw_only=True):
    """One figure, as is, and where it comes from."""

    value: float
    report: str
    method: str | None
    laboratory: str
    drawn_by: str
    sampled_on: date
    packages_cored: int | None
    stated_sd: float | None = None


class Figures(Fact, frozen=True, kw_only=True):
    """The figures that stand for a lot, each as is; None was never measured."""

    moisture_percent: Measured | None = None
    alpha_percent: Measured | None = None
    beta_percent: Measured | None = None
    cohumulone_percent_of_alpha: Measured | None = None
    hop_storage_index: Measured | None = None
    oil_ml_per_100g: Measured | None = None
    oil_shares_percent: Mapping[str, float] | None = None
    oil_shares_basis: str | None = None
    oil_shares_report: str | None = None

    @property
    def sampled_on(self) -> date | None:
        """The day from which storage is reckoned: the alpha's, else the index's sampling."""
        figure = self.alpha_percent or self.hop_storage_index
        return figure.sampled_on if figure else None


NO_FIGURES = Figures()


def as_is(report: LabReport, name: str) -> float | None:
    """A figure of a report, brought to the sample as it was."""
    value: float | None = getattr(report, name)
    if value is None or report.basis == "as_is" or QUANTITY_OF[name].basis != "sample":
        return value
    if report.moisture_percent is None:
        return None
    return percent_at_moisture(
        value_percent=value, sample_moisture_percent=0.0, wanted_moisture_percent=report.moisture_percent
    )


def standing_figures(reports: Sequence[LabReport]) -> Figures:
    """Take each figure from the standing report with the latest sampling that measured it.

    Alpha and beta always come from one report. Of two reports of one day the later filed one counts.
    """
    newest_first = sorted(
        (r for r in reports if r.is_standing),
        key=lambda r: (r.sampled_on, int(r.code[1:] or 0) if r.code else 0),
        reverse=True,
    )
    found: dict[str, Measured | None] = {
        name: next((m for r in newest_first if (m := measured(r, name))), None)
        for name in LAB_NAMES
        if name != "beta_percent"
    }
    alpha = found["alpha_percent"]
    from_report = next((r for r in newest_first if alpha and r.code == alpha.report), None)
    found["beta_percent"] = (
        measured(from_report, "beta_percent")
        if from_report
        else next((m for r in newest_first if (m := measured(r, "beta_percent"))), None)
    )
    shares = next((r for r in newest_first if r.oil_shares_percent), None)
    return Figures(
        **found,
        oil_shares_percent=shares.oil_shares_percent if shares else None,
        oil_shares_basis=shares.oil_shares_basis if shares else None,
        oil_shares_report=shares.code if shares else None,
    )


def measured(report: LabReport, name: str) -> Measured | None:
    """A figure of one report, as is, and where it comes from; None where it was not measured."""
    value = as_is(report, name)
    if value is None:
        return None
    stated = (report.uncertainty or {}).get(name)
    raw: float = getattr(report, name)
    return Measured(
        value=value,
        report=report.code,
        method=report.methods.get(QUANTITY_OF[name].group),
        laboratory=report.laboratory,
        drawn_by=report.drawn_by,
        sampled_on=report.sampled_on,
        packages_cored=report.packages_cored,
        stated_sd=stated * (value / raw if raw else 1.0) if stated else None,
    )


def correct(reports: Sequence[LabReport], new: LabReport) -> tuple[LabReport, ...]:
    """Put a new report beside the earlier ones; one that corrects another marks that one.

    Raises:
        NotFound: there is no report of the code it corrects.
        IllegalStep: that report was corrected before.
        NotAllowed: it was filed for another party.

    """
    if new.corrects is None:
        return (*reports, new)
    old = next((r for r in reports if r.code == new.corrects), None)
    if old is None or (old.drawn_by == "buyer" and old.filed_for != new.filed_for):
        raise NotFound(f"there is no report {new.corrects}")
    if old.filed_for != new.filed_for:
        raise NotAllowed(f"report {old.code} was filed for another party")
    if old.corrected_by is not None:
        raise IllegalStep(f"report {old.code} was corrected by {old.corrected_by}", state="corrected")
    return (*(replace(r, corrected_by=new.code) if r is old else r for r in reports), new)
