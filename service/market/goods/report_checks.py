"""Reading a lab report as it comes in: what it lacks to be read, and what cannot be."""

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from typing import Any

from service.errors import ConfirmationNeeded, ImpossibleReport, InvalidRequest
from service.facts import replace
from service.market.goods.lab_quantities import LAB_NAMES, LAB_QUANTITIES, QUANTITY_OF
from service.market.goods.lab_reports import LabReport, as_is
from service.market.goods.lots import PELLETS
from service.reference.methods import find_method
from service.science.lab import (
    alpha_percent_from_absorbance,
    beta_percent_from_absorbance,
    dilution_factor,
    hop_storage_index_from_absorbance,
)


def accept_report(report: LabReport, *, form: str, harvested_on: date | None, today: date) -> LabReport:
    """Let a report in, or name everything in it that cannot be.

    Raises:
        InvalidRequest: a figure lacks what it needs to be read: its method, its basis, its moisture.
        ImpossibleReport: a figure or a date that cannot be.
        ConfirmationNeeded: alpha and beta together over 35 %, unconfirmed.

    """
    unreadable = list(_unreadable(report, form))
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
INDEX_MAX = QUANTITY_OF["hop_storage_index"].answer_max
# Under 0.01 it is no reading.
INDEX_MIN = 0.01
# Peak areas are rounded, so that a full list may add to a little more than 100.
SHARES_SUM_MAX_PERCENT = 100.5


def _acids_percent(report: LabReport) -> float:
    return (as_is(report, "alpha_percent") or 0.0) + (as_is(report, "beta_percent") or 0.0)


def _unreadable(report: LabReport, form: str) -> Iterator[tuple[str, str]]:
    methods = report.methods
    if report.before_pelletizing and form not in PELLETS:
        yield (
            "before_pelletizing",
            f"the lot is of the form {form}: only of pellets is anything before pelletizing",
        )
    for group, method in methods.items():
        if find_method(method, group=group) is None:
            yield f"methods/{group}", f"{method} is not a method for {group}"
    for quantity in LAB_QUANTITIES:
        group, name = quantity.group, quantity.name
        if getattr(report, name) is not None and group == "alpha_beta" and group not in methods:
            yield f"methods/{group}", f"{name} needs the method it was measured by"
    if "other" in methods.values() and not report.method_note:
        yield "method_note", "a method outside the list is described in method_note"
    if report.cohumulone_percent_of_alpha is not None:
        measured_by = methods.get("cohumulone") or methods.get("alpha_beta")
        if measured_by is None or find_method(measured_by, group="cohumulone") is None:
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
    if not any(getattr(report, name) is not None for name in LAB_NAMES) and not report.oil_shares_percent:
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
    for acid in ("alpha_percent", "beta_percent"):
        content = getattr(report, acid)
        if content is not None and content < 0:
            yield _fault(acid, content, f"{acid} of {content:.4g} is under 0; check the absorbances")
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
    if index is not None and index < INDEX_MIN:
        yield _fault(
            "hop_storage_index",
            index,
            f"a Hop Storage Index of {index:g} cannot be: fresh hops read about 0.25",
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
