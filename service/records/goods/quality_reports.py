"""Reports of physical quality: search, add, mark, carry. Every one is written under the lock of its lot."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from service.facts import field_names, replace
from service.market.goods.quality_reports import ConeMass, QualityReport
from service.records.goods import lots
from service.records.session import Session
from service.records.tables import ConeClassesRow, LotRow, QualityReportRow
from service.reference.cone_classes import ConeClass, shipped_cone_classes

PLAIN = tuple(name for name in field_names(QualityReport) if name != "cones")


def search(session: Session, lot_code: str) -> Sequence[QualityReport]:
    """All reports on a lot, oldest first."""
    return search_of_lots(session, [lot_code]).get(lot_code, ())


def search_of_lots(session: Session, lot_codes: Iterable[str]) -> Mapping[str, Sequence[QualityReport]]:
    """The reports on lots, by the lot's code: one statement for all."""
    query = (
        sa.select(QualityReportRow, LotRow.code)
        .join(LotRow, LotRow.id == QualityReportRow.lot_id)
        .where(LotRow.code.in_(sorted(set(lot_codes))))
        .order_by(QualityReportRow.id)
        .execution_options(populate_existing=True)
    )
    found: dict[str, list[QualityReport]] = {}
    for row, code in session.execute(query):
        found.setdefault(code, []).append(_fact(row))
    return found


def add(session: Session, lot_code: str, report: QualityReport) -> QualityReport:
    """Keep a new report; gives it with its code."""
    lot_id = lots.get_row(session, lot_code).id
    count = session.scalar(
        sa.select(sa.func.count()).select_from(QualityReportRow).where(QualityReportRow.lot_id == lot_id)
    )
    kept = replace(report, code=f"Q{(count or 0) + 1}")
    session.add(QualityReportRow(lot_id=lot_id, **_values(kept)))
    session.flush()
    return kept


def mark(session: Session, lot_code: str, report: QualityReport) -> None:
    """Write by which report one was corrected."""
    query = (
        sa.select(QualityReportRow)
        .join(LotRow, LotRow.id == QualityReportRow.lot_id)
        .where(LotRow.code == lot_code, QualityReportRow.code == report.code)
    )
    session.scalars(query).one().corrected_by = report.corrected_by
    session.flush()


def carry(session: Session, *, from_code: str, into_code: str) -> None:
    """Let a part carry what was measured of its whole: the same goods."""
    for report in search(session, from_code):
        if report.is_standing:
            told = replace(report, carried_from=f"{from_code}/{report.code}", corrects=None, reason=None)
            add(session, into_code, told)


def carried_by(session: Session, lot_code: str, report_code: str) -> Sequence[tuple[str, QualityReport]]:
    """The lots that carry a report of another, each with its own copy that still stands."""
    query = (
        sa.select(LotRow.code, QualityReportRow)
        .join(LotRow, LotRow.id == QualityReportRow.lot_id)
        .where(
            QualityReportRow.carried_from == f"{lot_code}/{report_code}",
            QualityReportRow.corrected_by.is_(None),
        )
        .order_by(LotRow.code)
    )
    return [(code, _fact(row)) for code, row in session.execute(query)]


def cone_classes(session: Session) -> Sequence[ConeClass]:
    """The classes that stand: those the specialist set last, else the shipped ones."""
    found = session.scalar(sa.select(ConeClassesRow.classes).order_by(ConeClassesRow.id.desc()).limit(1))
    if found is None:
        return shipped_cone_classes()
    return [ConeClass(code=code, name=name, words=words) for code, name, words in found]


def set_cone_classes(session: Session, classes: Sequence[ConeClass], *, at: datetime, by: str) -> None:
    """Let other classes stand from now on; reports keep the classes of their day."""
    told = [[one.code, one.name, one.words] for one in classes]
    session.add(ConeClassesRow(classes=told, set_at=at, set_by=by))
    session.flush()


def _values(report: QualityReport) -> dict[str, Any]:
    values = {name: getattr(report, name) for name in PLAIN}
    return {**values, "cones": [[cone.code, cone.name, cone.mass_g] for cone in report.cones]}


def _fact(row: QualityReportRow) -> QualityReport:
    cones = tuple(ConeMass(code=code, name=name, mass_g=float(mass_g)) for code, name, mass_g in row.cones)
    return QualityReport(cones=cones, **{name: getattr(row, name) for name in PLAIN})
