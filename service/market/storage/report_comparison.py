"""Compares two reports on one lot before anyone is said to be wrong.

Scatter of both laboratories and samples and the doubt about storage add in quadrature, at 95 %. The words
never say who is wrong.
"""

import math
from collections.abc import Iterator, Sequence

from service.errors import InvalidRequest, NotFound
from service.facts import Fact
from service.market.goods.lab_quantities import LAB_NAMES
from service.market.goods.lab_reports import LabReport, Measured, measured
from service.market.goods.lots import Lot
from service.market.goods.temperature_logs import logged_days
from service.market.storage.storage_rates import QUANTITIES, exponent_over, index_after, sd_log
from service.reference.assumptions import get_assumption, sampling_cv
from service.reference.methods import find_method
from service.reference.six_month_storage import SixMonthLoss
from service.science.agreement import Agreement, agreement_of_two_results
from service.science.storage_spread import Ratio
from service.science.uncertainty import NORMAL_95TH, Estimate, sd_log_from_interval

ACIDS = ("alpha_percent", "beta_percent")


class FigureComparison(Fact, frozen=True, kw_only=True):
    """One figure of both reports; `agreement` is None where the two cannot be compared, and `words` say why."""

    name: str
    first: float | None
    second: float | None
    first_method: str | None
    second_method: str | None
    agreement: Agreement | None
    words: str


class ReportComparison(Fact, frozen=True, kw_only=True):
    """Two reports of one lot, the earlier sampled one first."""

    lot_code: str
    first: str
    second: str
    days_between: int
    figures: tuple[FigureComparison, ...]
    assumptions: tuple[str, ...]
    words: str


def compare_reports(lot: Lot, codes: tuple[str, str], *, loss: SixMonthLoss) -> ReportComparison:
    """Compare two reports against their laboratories' and samples' scatter, and the storage between them.

    Raises:
        NotFound: the lot has no such report.
        InvalidRequest: a report is compared with itself.

    """
    if codes[0] == codes[1]:
        text = "name another report to compare with"
        raise InvalidRequest(text, errors=[{"parameter": "with", "detail": text}])
    first, second = sorted((_report(lot, code) for code in codes), key=lambda r: (r.sampled_on, r.code))
    figures = tuple(_compared(lot, first, second, loss))
    found = [f for f in figures if f.agreement is not None]
    apart = [f.name for f in found if f.agreement is not None and not f.agreement.is_explained]
    if not found:
        words = "The two reports have no figure that can be compared."
    elif apart:
        words = (
            f"{', '.join(apart)}: further apart than laboratories, samples and storage explain in 19 of 20 cases. "
            "That says that something differs, not who is wrong: draw a sample together and have it analysed again."
        )
    else:
        words = (
            "What differs is no more than laboratories, samples and storage explain; neither report is wrong."
        )
    return ReportComparison(
        lot_code=lot.code,
        first=first.code,
        second=second.code,
        days_between=(second.sampled_on - first.sampled_on).days,
        figures=figures,
        assumptions=tuple(dict.fromkeys(_assumptions(lot, first, second, found))),
        words=words,
    )


def _report(lot: Lot, code: str) -> LabReport:
    for report in lot.reports:
        if report.code == code:
            return report
    raise NotFound(f"there is no report {code}")


def _compared(
    lot: Lot, first: LabReport, second: LabReport, loss: SixMonthLoss
) -> Iterator[FigureComparison]:
    for name in LAB_NAMES:
        one, two = measured(first, name), measured(second, name)
        if one is None and two is None:
            continue
        if first.before_pelletizing != second.before_pelletizing:
            agreement, words = (
                None,
                "One is of the cones before pelletizing, the other of the pellets: not compared.",
            )
        else:
            agreement, words = _agreement(lot, name, one, two, loss)
        yield FigureComparison(
            name=name,
            first=one.value if one else None,
            second=two.value if two else None,
            first_method=one.method if one else None,
            second_method=two.method if two else None,
            agreement=agreement,
            words=words,
        )


def _agreement(
    lot: Lot, name: str, one: Measured | None, two: Measured | None, loss: SixMonthLoss
) -> tuple[Agreement | None, str]:
    if one is None or two is None:
        return None, "Only one of the reports has this figure."
    if name not in QUANTITIES:
        return None, "No scatter is kept for this figure; look at both."
    if not _like(one, two, QUANTITIES[name][1]):
        return None, "Measured by methods that read differently; they are not compared."
    if min(one.value, two.value) <= 0:
        return None, "One of the results is zero, below what the method can tell; no ratio can be made."
    change, doubt, words = _change(lot, name, one, two, loss)
    agreement = agreement_of_two_results(
        first=one.value,
        second=two.value,
        first_sd_log=sd_log(one, name=name, form=lot.form),
        second_sd_log=sd_log(two, name=name, form=lot.form),
        change_log=change,
        change_sd_log=doubt,
    )
    verdict = "explained by scatter" if agreement.is_explained else "more than scatter explains"
    return agreement, f"{agreement.difference_percent:+.1f} % from what was expected: {verdict}. {words}"


def _like(one: Measured, two: Measured, group: str) -> bool:
    families = [
        known.family if (known := find_method(m.method or "other", group=group)) else "other"
        for m in (one, two)
    ]
    return families[0] == families[1] and ("other" not in families or one.method == two.method)


def _change(
    lot: Lot, name: str, one: Measured, two: Measured, loss: SixMonthLoss
) -> tuple[float, float, str]:
    """What storage did to a figure between the samplings, in logarithms, how far that may be off, and in words."""
    days = (two.sampled_on - one.sampled_on).days
    if days == 0:
        return 0.0, 0.0, "Both were sampled on one day."
    if not lot.spells or name not in (*ACIDS, "hop_storage_index"):
        return 0.0, 0.0, "What storage did between the samplings is not reckoned for this figure."
    gone = _gone(lot, name, one, two, loss)
    if name == "hop_storage_index":
        later = index_after(one.value, gone, 0.0)
        if later is None:
            return 0.0, 0.0, "The index had reached its end; what storage did is not reckoned."
        return (
            math.log(later.estimate / one.value),
            sd_log_from_interval(low=later.low, high=later.high),
            f"Storage over {days} days is reckoned in.",
        )
    doubt = (gone.high - gone.low) / (2 * NORMAL_95TH)
    return -gone.estimate, doubt, f"Storage over {days} days is reckoned in."


def _gone(lot: Lot, name: str, one: Measured, two: Measured, loss: SixMonthLoss) -> Estimate:
    beta = get_assumption("beta_rate_ratio")
    ratios = [Ratio(beta.low, beta.high)] if name == "beta_percent" else []
    return exponent_over(
        lot.spells,
        since=one.sampled_on,
        until=two.sampled_on,
        loss=loss,
        form=lot.form,
        ratios=ratios,
        logged=logged_days(lot.logs),
    )


def _assumptions(
    lot: Lot, first: LabReport, second: LabReport, found: Sequence[FigureComparison]
) -> Iterator[str]:
    told = set()
    for figure in found:
        quantity, group = QUANTITIES[figure.name]
        told.add(sampling_cv(quantity=quantity, form=lot.form))
        for code in (figure.first_method, figure.second_method):
            method = find_method(code or "other", group=group)
            if method is not None:
                yield f"{method.name}: {method.between_laboratory_cv_percent:g} % between laboratories ({method.mark})"
    if any(report.packages_cored is None for report in (first, second)):
        told.add(get_assumption("packages_cored_default"))
    if any("reckoned in" in figure.words for figure in found):
        told.add(get_assumption("storage_rate_spread_ratio"))
    for assumption in sorted(told, key=lambda a: a.name):
        yield f"{assumption.words} ({assumption.mark})"
