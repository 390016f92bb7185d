"""Certifications of many lots: found in one statement, and asked for in the words of the database."""

from collections.abc import Sequence
from datetime import date

import sqlalchemy as sa

from service.facts import field_names
from service.market.goods.provenance import CERTIFICATION_KINDS, Certification
from service.records.session import Session
from service.records.tables import CertificationRow, LotRow
from service.reference.names import fold

# A statement takes only so many parameters.
NAMED_MAX = 5000


def certifications_of(session: Session, lot_ids: Sequence[int]) -> dict[int, tuple[Certification, ...]]:
    """The certifications of lots by the lot's number, in the order in which they were given."""
    names = field_names(Certification)
    found: dict[int, tuple[Certification, ...]] = {}
    for start in range(0, len(lot_ids), NAMED_MAX):
        query = (
            sa.select(CertificationRow.lot_id, *(getattr(CertificationRow, name) for name in names))
            .where(CertificationRow.lot_id.in_(lot_ids[start : start + NAMED_MAX]))
            .order_by(CertificationRow.id)
        )
        for lot_id, *values in session.execute(query):
            held = Certification(**dict(zip(names, values, strict=True)))
            found[lot_id] = (*found.get(lot_id, ()), held)
    return found


def certified_as(wanted: str, on: date) -> sa.ColumnElement[bool]:
    """A lot with a certification of that kind or scheme that holds on the day; a lapsed one does not count."""
    key = fold(wanted)
    fits = CertificationRow.scheme_key == key
    if key in CERTIFICATION_KINDS:
        fits = sa.or_(fits, CertificationRow.kind == key)
    holds = sa.select(CertificationRow.lot_id).where(fits, CertificationRow.valid_until >= on)
    return LotRow.id.in_(holds)
