"""Lab reports: filed, never edited, at most corrected by a later one."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest, NotAllowed
from service.facts import replace
from service.market.goods.lab_reports import LabReport, correct
from service.market.goods.lots import Lot
from service.market.goods.report_checks import accept_report, read_absorbance
from service.market.people.access import Caller, acting_party, require_known
from service.market.processing.parts import correct_part
from service.market.processing.steps import require_sampled_after
from service.market.storage.report_comparison import ReportComparison, compare_reports
from service.records.goods import lots
from service.records.processing import steps
from service.records.session import Session
from service.reference.six_month_storage import six_month_loss
from service.usecases.goods.lot_access import lot_to_see


def file_report(
    session: Session, code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> LabReport:
    """File a lab report on a lot: the grower's own, or a buyer's.

    Raises:
        NotFound: the caller must not know of the lot, or there is no report to correct.
        TokenNeeded, NotAllowed: the lot is somebody else's.
        InvalidRequest, ImpossibleReport, ConfirmationNeeded, OutOfRange: as `accept_report`.

    """
    require_known(caller)
    lot = lot_to_see(session, code, caller=caller, now=now, lock=True)
    given = dict(asked)
    filed_for = _filed_for(session, lot, caller, given)
    report = LabReport(
        code=f"R{len(lot.reports) + 1}",
        filed_at=now,
        filed_by=caller.name,
        filed_for=filed_for,
        **given,
    )
    report = accept_report(
        read_absorbance(report), form=lot.form, harvested_on=lot.harvested_on, today=now.date()
    )
    require_sampled_after(report, steps.find(session, code))
    changed = replace(lot, reports=correct(lot.reports, report))
    lots.change(session, changed)
    if report.corrects is not None and report.drawn_by != "buyer":
        _correct_parts(session, lot, report, now)
    return report


def _correct_parts(session: Session, lot: Lot, report: LabReport, now: datetime) -> None:
    """Let a correction reach every part that was split off the lot and carries the report."""
    old = next(r for r in lot.reports if r.code == report.corrects)
    parts = lots.lock(session, steps.parts_below(session, lot.code), now=now)
    for part in parts.values():
        corrected = correct_part(part, old=old, new=report)
        if corrected is not None:
            lots.change(session, corrected)


def _filed_for(session: Session, lot: Lot, caller: Caller, given: dict[str, Any]) -> str:
    """For whom a report is filed: the lot's grower, or a brewery that holds a promise on the lot."""
    grower, brewery = given.pop("grower_code", None), given.pop("brewery_code", None)
    is_buyers = caller.role == "brewery" or brewery is not None
    if not is_buyers:
        acting_party(caller, kind="grower", named=lot.grower_code)
        if grower not in (None, lot.grower_code):
            raise NotAllowed(f"lot {lot.code} belongs to {lot.grower_code}, not to {grower}")
        if given["drawn_by"] == "buyer":
            _refuse("drawn_by", "a report on a buyer's sample is filed by the buyer")
        return f"grower:{lot.grower_code}"
    buyer = acting_party(caller, kind="brewery", named=brewery)
    if not lots.is_committed_to(session, lot.code, brewery_code=buyer):
        raise NotAllowed(f"{buyer} holds no promise on lot {lot.code}")
    if given["drawn_by"] != "buyer":
        _refuse("drawn_by", "a buyer's report is on the buyer's own sample: drawn_by is buyer")
    return f"brewery:{buyer}"


def _refuse(field: str, text: str) -> None:
    raise InvalidRequest(text, errors=[{"pointer": f"#/{field}", "detail": text}])


def list_reports(session: Session, code: str, *, caller: Caller, now: datetime) -> Sequence[LabReport]:
    """The reports on a lot with those that were corrected; a buyer's own only for both sides.

    Raises:
        NotFound: there is no such lot, or the caller must not know of it.

    """
    lot = lot_to_see(session, code, caller=caller, now=now)
    if caller.acts_for("grower", lot.grower_code):
        return lot.reports
    own = f"brewery:{caller.party_code}" if caller.role == "brewery" else None
    return [report for report in lot.reports if report.drawn_by != "buyer" or report.filed_for == own]


def compare_two_reports(
    session: Session, code: str, *, reports: tuple[str, str], caller: Caller, now: datetime
) -> ReportComparison:
    """Compare two reports on a lot, for somebody who may read both.

    Raises:
        TokenNeeded: no known token came along.
        NotFound: there is no such lot or report, or the caller must not know of it.
        InvalidRequest: as `compare_reports`.

    """
    require_known(caller)
    readable = list_reports(session, code, caller=caller, now=now)
    lot = replace(lot_to_see(session, code, caller=caller, now=now), reports=tuple(readable))
    return compare_reports(lot, reports, loss=six_month_loss(lot.cultivar))
