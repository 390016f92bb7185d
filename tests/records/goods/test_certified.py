"""Certifications of many lots at once."""

from datetime import date, timedelta

import sqlalchemy as sa
from sqlalchemy.orm import Session

from service.records.goods.certified import certifications_of, certified_as
from service.records.tables import LotRow
from tests.factories import CertificationRowFactory, LotRowFactory, PartyRowFactory

LAST = date(2027, 6, 1)


def test_certifications_come_by_lot_in_the_order_in_which_they_were_given(session: Session) -> None:
    grower = PartyRowFactory()
    first, second, bare = (LotRowFactory(grower_id=grower.id) for _ in range(3))
    for row, number in ((first, "A"), (second, "B"), (first, "C")):
        CertificationRowFactory(lot_id=row.id, number=number)

    found = certifications_of(session, [first.id, second.id, bare.id])

    assert {lot_id: [held.number for held in own] for lot_id, own in found.items()} == {
        first.id: ["A", "C"],
        second.id: ["B"],
    }
    assert certifications_of(session, []) == {}


def test_a_kind_or_a_scheme_holds_to_the_end_of_its_last_day(session: Session) -> None:
    lot = LotRowFactory(grower_id=PartyRowFactory().id)
    CertificationRowFactory(lot_id=lot.id, scheme="River Organic", valid_until=LAST)

    def found(wanted: str, on: date) -> bool:
        return session.scalar(sa.select(LotRow.id).where(certified_as(wanted, on))) is not None

    assert found("organic", LAST)
    assert found("river  ORGANIC", LAST)
    assert not found("organic", LAST + timedelta(days=1))
    assert not found("other", LAST)
