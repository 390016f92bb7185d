"""Samples sent to laboratories: search, add. Written under the lock of the lot."""

from collections.abc import Iterable, Sequence
from datetime import date

import sqlalchemy as sa

from service.facts import field_names, replace
from service.market.goods.submissions import Submission
from service.records.goods import lots
from service.records.session import Session
from service.records.tables import LotRow, SubmissionRow

PLAIN = tuple(name for name in field_names(Submission) if name not in ("lot_code", "tests"))


def search(session: Session, lot_code: str) -> Sequence[Submission]:
    """All samples of a lot that were sent, oldest first."""
    query = (
        sa.select(SubmissionRow)
        .join(LotRow, LotRow.id == SubmissionRow.lot_id)
        .where(LotRow.code == lot_code)
        .order_by(SubmissionRow.id)
    )
    return [
        Submission(lot_code=lot_code, tests=tuple(row.tests), **{name: getattr(row, name) for name in PLAIN})
        for row in session.scalars(query)
    ]


def last_sent(session: Session, lot_codes: Iterable[str]) -> dict[str, date]:
    """The day on which the last sample of each lot was sent, of those that have one."""
    query = (
        sa.select(LotRow.code, sa.func.max(SubmissionRow.sent_on))
        .join(LotRow, LotRow.id == SubmissionRow.lot_id)
        .where(LotRow.code.in_(sorted(set(lot_codes))))
        .group_by(LotRow.code)
    )
    return {row[0]: row[1] for row in session.execute(query)}


def add(session: Session, submission: Submission) -> Submission:
    """Keep a sample that was sent; gives it with its code."""
    row = lots.get_row(session, submission.lot_code)
    query = sa.select(sa.func.count()).select_from(SubmissionRow).where(SubmissionRow.lot_id == row.id)
    kept = replace(submission, code=f"S{(session.scalar(query) or 0) + 1}")
    session.add(
        SubmissionRow(lot_id=row.id, tests=list(kept.tests), **{name: getattr(kept, name) for name in PLAIN})
    )
    session.flush()
    return kept
