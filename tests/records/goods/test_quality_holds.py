"""Holds in the books, on both databases."""

from service.facts import replace
from service.market.goods.quality_holds import QualityHold
from service.records.goods import quality_holds
from service.records.session import Session
from tests.factories import NOW, LotRowFactory, PartyRowFactory


def a_hold(session: Session, **told: object) -> QualityHold:
    plain = {
        "concern": "spray",
        "words": "drift from the orchard",
        "placed_at": NOW,
        "placed_by": "specialist",
    }
    return quality_holds.add(session, QualityHold(**plain | told))


def test_holds_are_counted_within_their_lot_and_come_back_as_they_were(session: Session) -> None:
    grower = PartyRowFactory()
    one, two = (LotRowFactory(grower_id=grower.id).code for _ in range(2))

    first = a_hold(session, lot_code=one)
    second = a_hold(session, lot_code=one, recall_code="RECALL-01")
    other = a_hold(session, lot_code=two, recall_code="RECALL-01")

    assert [first.code, second.code, other.code] == ["H1", "H2", "H1"]
    assert quality_holds.search(session, one) == [first, second]
    assert quality_holds.search_of_recall(session, "RECALL-01") == sorted(
        (second, other), key=lambda hold: hold.lot_code
    )


def test_a_lifted_hold_stays_in_the_books(session: Session) -> None:
    lot = LotRowFactory(grower_id=PartyRowFactory().id)
    hold = a_hold(session, lot_code=lot.code)

    lifted = replace(hold, lifted_at=NOW, lifted_by="specialist", finding="no residue found")
    quality_holds.change(session, lifted)

    assert quality_holds.search(session, lot.code) == [lifted]
