"""What a lab report says, which figure stands, and what cannot be."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Any

from service.errors import (
    ConfirmationNeeded,
    IllegalStep,
    ImpossibleReport,
    InvalidRequest,
    NotAllowed,
    NotFound,
)
from service.reference.methods import find_method
from service.science.lab import (
    alpha_percent_from_absorbance,
    beta_percent_from_absorbance,
    dilution_factor,
    hop_storage_index_from_absorbance,
)
from service.science.moisture import percent_at_moisture

ALPHA_METHODS = ("asbc_hops_6", "asbc_hops_14", "ebc_7_4", "ebc_7_5", "ebc_7_7", "other")
CHROMATOGRAPHIC = ("asbc_hops_14", "ebc_7_7")
METHOD_GROUPS = ("alpha_beta", "cohumulone", "hop_storage_index", "moisture", "oil", "oil_shares")
BASES = ("as_is", "dry")
DRAWN_BY = ("grower", "laboratory", "official", "buyer")


@dataclass(frozen=True, slots=True, kw_only=True)
class LabReport:
    """One report, as the laboratory wrote it; `basis` governs alpha, beta and oil."""

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
    filed_at: datetime | None = None
    filed_by: str = ""
    filed_for: str = ""

    @property
    def is_standing(self) -> bool:
        """Whether it may drive figures: not corrected, and not a buyer's own."""
        return self.corrected_by is None and self.drawn_by != "buyer"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One figure, as is, and where it comes from."""

    value: float
    report: str
    method: str | None
    laboratory: str
    drawn_by: str
    sampled_on: date
    packages_cored: int | None
    stated_sd: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
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
GROUP_OF = {
    "alpha_percent": "alpha_beta",
    "beta_percent": "alpha_beta",
    "cohumulone_percent_of_alpha": "cohumulone",
    "hop_storage_index": "hop_storage_index",
    "moisture_percent": "moisture",
    "oil_ml_per_100g": "oil",
}
ON_THE_BASIS = ("alpha_percent", "beta_percent", "oil_ml_per_100g")


def as_is(report: LabReport, name: str) -> float | None:
    """A figure of a report, brought to the sample as it was."""
    value: float | None = getattr(report, name)
    if value is None or report.basis == "as_is" or name not in ON_THE_BASIS:
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
        name: next((m for r in newest_first if (m := _measured(r, name))), None)
        for name in GROUP_OF
        if name != "beta_percent"
    }
    alpha = found["alpha_percent"]
    from_report = next((r for r in newest_first if alpha and r.code == alpha.report), None)
    found["beta_percent"] = (
        _measured(from_report, "beta_percent")
        if from_report
        else next((m for r in newest_first if (m := _measured(r, "beta_percent"))), None)
    )
    shares = next((r for r in newest_first if r.oil_shares_percent), None)
    return Figures(
        **found,
        oil_shares_percent=shares.oil_shares_percent if shares else None,
        oil_shares_basis=shares.oil_shares_basis if shares else None,
        oil_shares_report=shares.code if shares else None,
    )


def _measured(report: LabReport, name: str) -> Measured | None:
    value = as_is(report, name)
    if value is None:
        return None
    stated = (report.uncertainty or {}).get(name)
    raw: float = getattr(report, name)
    return Measured(
        value=value,
        report=report.code,
        method=report.methods.get(GROUP_OF[name]),
        laboratory=report.laboratory,
        drawn_by=report.drawn_by,
        sampled_on=report.sampled_on,
        packages_cored=report.packages_cored,
        stated_sd=stated * (value / raw if raw else 1.0) if stated else None,
    )


def accept_report(report: LabReport, *, form: str, harvested_on: date | None, today: date) -> LabReport:
    """Let a report in, or name everything in it that cannot be.

    Raises:
        InvalidRequest: a figure lacks what it needs to be read: its method, its basis, its moisture.
        ImpossibleReport: a figure or a date that cannot be.
        ConfirmationNeeded: alpha and beta together over 35 %, unconfirmed.

    """
    unreadable = list(_unreadable(report))
    if unreadable:
        raise InvalidRequest(
            "; ".join(text for _, text in unreadable),
            errors=[{"pointer": f"#/{name}", "detail": text} for name, text in unreadable],
        )
    faults = [*_impossible_figures(report, form), *_impossible_dates(report, harvested_on, today)]
    if faults:
        raise ImpossibleReport("; ".join(str(f["detail"]) for f in faults), faults=faults)
    acids = _acids_percent(report)
    if acids > UNUSUAL_ACIDS_PERCENT and not report.confirmed:
        raise ConfirmationNeeded(
            f"alpha and beta make {acids:.4g} % together, over {UNUSUAL_ACIDS_PERCENT} %: is a decimal point"
            ' misplaced? If the certificate says so, send "confirmed": true',
            acids_percent=acids,
            limit_percent=UNUSUAL_ACIDS_PERCENT,
        )
    return report


def read_absorbance(report: LabReport) -> LabReport:
    """Turn the absorbances of ASBC Hops-6 into alpha, beta and HSI; they stay beside the figures as written.

    Raises:
        InvalidRequest: figures were given as well, or neither a dilution nor its factor.
        OutOfRange: a reading outside its range.

    """
    given = report.absorbance
    if given is None:
        return report
    doubled = [
        n for n in ("alpha_percent", "beta_percent", "hop_storage_index") if getattr(report, n) is not None
    ]
    if doubled:
        raise InvalidRequest(
            "give the absorbances, or the figures made from them, not both",
            errors=[
                {"pointer": f"#/{name}", "detail": "This follows from the absorbances."} for name in doubled
            ],
        )
    reading = {name: float(given[name]) for name in ("a275", "a325", "a355")}
    factor = _dilution_factor(given)
    return replace(
        report,
        alpha_percent=alpha_percent_from_absorbance(**reading, dilution_factor=factor),
        beta_percent=beta_percent_from_absorbance(**reading, dilution_factor=factor),
        hop_storage_index=hop_storage_index_from_absorbance(a275=reading["a275"], a325=reading["a325"]),
        methods={"hop_storage_index": "asbc_hops_6", **report.methods},
    )


def _dilution_factor(given: Mapping[str, Any]) -> float:
    if ("dilution_factor" in given) == ("dilution" in given):
        text = "give dilution_factor, or dilution with its volumes"
        raise InvalidRequest(text, errors=[{"pointer": "#/absorbance", "detail": text}])
    if "dilution_factor" in given:
        return float(given["dilution_factor"])
    return dilution_factor(**{name: float(value) for name, value in given["dilution"].items()})


# House limits that catch slips of the pen; assumption, no source.
UNUSUAL_ACIDS_PERCENT = 35
DRY_MOISTURE_PERCENT = (3, 20)
# At an index of 2.03 the published formula has lost all acids: 0.25 x 10^(100/110).
INDEX_MAX = 2.03
# Peak areas are rounded, so that a full list may add to a little more than 100.
SHARES_SUM_MAX_PERCENT = 100.5


def _acids_percent(report: LabReport) -> float:
    return (as_is(report, "alpha_percent") or 0.0) + (as_is(report, "beta_percent") or 0.0)


def _unreadable(report: LabReport) -> Iterator[tuple[str, str]]:
    methods = report.methods
    for group, method in methods.items():
        if find_method(method, group=group) is None:
            yield f"methods/{group}", f"{method} is not a method for {group}"
    for name, group in GROUP_OF.items():
        if getattr(report, name) is not None and group in ("alpha_beta",) and group not in methods:
            yield f"methods/{group}", f"{name} needs the method it was measured by"
    if "other" in methods.values() and not report.method_note:
        yield "method_note", "a method outside the list is described in method_note"
    if report.cohumulone_percent_of_alpha is not None:
        method = methods.get("cohumulone") or methods.get("alpha_beta")
        if method not in (*CHROMATOGRAPHIC, "other"):
            yield "cohumulone_percent_of_alpha", "cohumulone is measured by chromatography: name that method"
    if report.basis == "dry" and report.moisture_percent is None:
        yield "moisture_percent", "figures on the dry basis need the moisture"
    if report.absorbance is not None:
        if methods.get("alpha_beta") != "asbc_hops_6":
            yield "methods/alpha_beta", "absorbances are read by asbc_hops_6"
        if report.basis == "dry":
            yield "basis", "absorbances give figures of the sample as it was weighed: as_is"
    if (report.oil_shares_percent is None) != (report.oil_shares_basis is None):
        yield "oil_shares_basis", "oil shares and their basis are given together"
    if (report.corrects is None) != (report.reason is None):
        yield "reason", "a correction names the report it corrects, and the reason"
    if not any(getattr(report, name) is not None for name in GROUP_OF) and not report.oil_shares_percent:
        yield "", "a report holds at least one figure"
    for name in report.uncertainty or {}:
        if getattr(report, name) is None:
            yield f"uncertainty/{name}", f"an uncertainty of {name} needs {name} itself"


def _fault(field: str, found: object, detail: str) -> dict[str, object]:
    return {"field": field, "found": str(found) if isinstance(found, date) else found, "detail": detail}


def _impossible_figures(report: LabReport, form: str) -> Iterator[dict[str, object]]:
    low, high = DRY_MOISTURE_PERCENT
    moisture = report.moisture_percent
    if moisture is not None and form != "wet_hop" and not low < moisture <= high:
        yield _fault(
            "moisture_percent",
            moisture,
            f"moisture of {moisture:g} % cannot be of dried hops (over {low} to {high} %)",
        )
    acids = _acids_percent(report)
    if acids > 100:
        yield _fault("alpha_percent", acids, f"alpha and beta make {acids:.4g} % together, over 100 %")
    index = report.hop_storage_index
    if index is not None and index > INDEX_MAX:
        yield _fault(
            "hop_storage_index",
            index,
            f"a Hop Storage Index of {index:g} cannot be: at {INDEX_MAX} all acids are gone"
            + ("; a percentage lost in six months is another quantity" if index >= 10 else ""),
        )
    shares = report.oil_shares_percent or {}
    for name, share in {**shares, "cohumulone": report.cohumulone_percent_of_alpha}.items():
        if share is not None and share > 100:
            yield _fault(name, share, f"{name} of {share:g} % is over 100 %")
    total = sum(shares.values())
    if total > SHARES_SUM_MAX_PERCENT:
        yield _fault("oil_shares_percent", total, f"the oil shares add up to {total:.4g} %, over 100 %")


def _impossible_dates(
    report: LabReport, harvested_on: date | None, today: date
) -> Iterator[dict[str, object]]:
    sampled, analysed = report.sampled_on, report.analysed_on
    if harvested_on and sampled < harvested_on:
        yield _fault("sampled_on", sampled, f"sampled on {sampled}, before picking began on {harvested_on}")
    if analysed < sampled:
        yield _fault("analysed_on", analysed, f"analysed on {analysed}, before sampling on {sampled}")
    for name, day in (("sampled_on", sampled), ("analysed_on", analysed)):
        if day > today + timedelta(days=1):
            yield _fault(name, day, f"{name} {day} is in the future")


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
