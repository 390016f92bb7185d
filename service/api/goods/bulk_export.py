"""A grower's lots as rows of a file that an import takes back without loss."""

from collections.abc import Iterator, Sequence
from typing import Any

from service.api.fields import rfc3339
from service.api.goods.bulk_columns import ABSORBANCES, COLUMNS
from service.files.writing import Value
from service.market.goods.bulk import certifications_text, named_text, packages_text, spells_text
from service.market.goods.lab_reports import LabReport
from service.market.goods.lots import Lot

# Told in one unit only; the others say the same.
OTHER_UNITS = (
    "mass_lb",
    "mass_oz",
    "expected_lb",
    "order_lb_min",
    "price_per_lb",
    "stored_at_f",
    # The history says them, with all that came before.
    "packing",
    "stored_at_c",
    "residual_oxygen_percent",
)
HEADER = tuple(name for name in COLUMNS if name not in OTHER_UNITS)
FROM_ABSORBANCE = ("alpha_percent", "beta_percent", "hop_storage_index")


def export_rows(lots: Sequence[Lot]) -> Iterator[list[Value]]:
    """The rows: one for each lot with its first report, one for each further report, joined by the lot's code.

    A buyer's report is the buyer's and stays here; so does one that was corrected.
    """
    for lot in lots:
        reports = [report for report in lot.reports if report.is_standing]
        first = _lot(lot) | (_report(reports[0]) if reports else {})
        yield [first.get(name) for name in HEADER]
        for report in reports[1:]:
            further = {"lot": lot.code} | _report(report)
            yield [further.get(name) for name in HEADER]


def _lot(lot: Lot) -> dict[str, Value]:
    told: dict[str, Any] = {}
    for name in HEADER:
        column = COLUMNS[name]
        if column.part == "lot" and hasattr(lot, column.field):
            told[name] = getattr(lot, column.field)
    told |= {
        "lot": lot.code,
        "packages": packages_text(lot.packages) or None,
        "certifications": certifications_text(lot.certifications) or None,
        "storage_history": spells_text(lot.spells) or None,
        "list_as": lot.readiness if lot.state == "listed" else None,
    }
    for name in ("picked_at", "collect_at"):
        told[name] = rfc3339(told[name]) if told[name] is not None else None
    return told


def _report(report: LabReport) -> dict[str, Value]:
    told: dict[str, Any] = {}
    for name in HEADER:
        column = COLUMNS[name]
        if column.part == "report":
            told[name] = getattr(report, column.field)
        elif column.part == "methods":
            told[name] = report.methods.get(column.field)
    for name in ("oil_shares_percent", "uncertainty"):
        told[name] = named_text(told[name]) if told[name] else None
    if report.absorbance is not None:
        # What was worked out of the absorbances is worked out again.
        told |= dict.fromkeys(FROM_ABSORBANCE)
        told |= {f"absorbance_{name}": report.absorbance.get(name) for name in ABSORBANCES}
        dilution = report.absorbance.get("dilution")
        told["absorbance_dilution"] = named_text(dilution) if dilution else None
    return told
