"""Physical quality of lots: filed, corrected with a reason, read; and the classes cones are sorted into."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from service.facts import replace
from service.market.goods.quality_reports import (
    GivenSort,
    QualityReport,
    accept_quality_report,
    correct_quality,
)
from service.market.people.access import Caller, require_known, require_specialist
from service.records.goods import lots, quality_reports
from service.records.processing import steps
from service.records.session import Session
from service.reference.cone_classes import ConeClass
from service.usecases.goods.lot_access import lot_to_change, lot_to_see


def file_quality_report(
    session: Session, code: str, *, caller: Caller, asked: Mapping[str, Any], now: datetime
) -> QualityReport:
    """File what was measured of a lot's cones, or the correction of an earlier report.

    A correction reaches every part that was split off and carries the report it corrects.

    Raises:
        NotFound, TokenNeeded, NotAllowed: the lot is not the caller's, or there is no report to correct.
        InvalidRequest, ImpossibleReport, OutOfRange: as `accept_quality_report`.
        IllegalStep: as `correct_quality`.

    """
    lot = lot_to_change(session, code, caller=caller, now=now)
    given = dict(asked)
    sorted_as = given.pop("cone_sort")
    report = accept_quality_report(
        QualityReport(filed_at=now, filed_by=caller.name, **given),
        GivenSort(**sorted_as) if sorted_as else None,
        lot=lot,
        classes=quality_reports.cone_classes(session),
        today=now.date(),
    )
    before = quality_reports.search(session, code)
    kept = quality_reports.add(session, code, report)
    corrected = correct_quality(before, kept)
    if corrected is not None:
        quality_reports.mark(session, code, corrected)
        _correct_parts(session, code, kept, now=now)
    return kept


def _correct_parts(session: Session, code: str, new: QualityReport, *, now: datetime) -> None:
    lots.lock(session, steps.parts_below(session, code), now=now)
    reached = [(code, new.corrects or "", new)]
    while reached:
        whole_code, old_code, told = reached.pop()
        for part_code, old in quality_reports.carried_by(session, whole_code, old_code):
            twin = replace(told, code="", carried_from=f"{whole_code}/{told.code}", corrects=old.code)
            kept = quality_reports.add(session, part_code, twin)
            quality_reports.mark(session, part_code, replace(old, corrected_by=kept.code))
            reached.append((part_code, old.code, kept))


def list_quality_reports(
    session: Session, code: str, *, caller: Caller, now: datetime
) -> Sequence[QualityReport]:
    """All reports on a lot, corrected ones marked, to all who may know of the lot.

    Raises:
        NotFound: there is no such lot, or the caller must not know of it.

    """
    lot_to_see(session, code, caller=caller, now=now)
    return quality_reports.search(session, code)


def list_cone_classes(session: Session) -> Sequence[ConeClass]:
    """The classes into which cones are sorted here."""
    return quality_reports.cone_classes(session)


def set_cone_classes(
    session: Session, *, caller: Caller, classes: Sequence[ConeClass], now: datetime
) -> Sequence[ConeClass]:
    """Let the region sort into other classes from now on; earlier reports keep theirs.

    Raises:
        TokenNeeded, NotAllowed: the caller is not the specialist.

    """
    require_known(caller)
    require_specialist(caller)
    quality_reports.set_cone_classes(session, classes, at=now, by=caller.name)
    return quality_reports.cone_classes(session)
