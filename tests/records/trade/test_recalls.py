"""Recalls in the books, on both databases."""

from decimal import Decimal

import pytest

from service.errors import NotFound
from service.facts import replace
from service.market.goods.lots import Package
from service.market.trade.recalls import Recall, RecallLine
from service.records.session import Session
from service.records.trade import recalls
from tests.factories import NOW, LotRowFactory, PartyRowFactory


def a_recall(session: Session, code: str, lot_code: str, holder: str) -> Recall:
    line = RecallLine(
        lot_code=lot_code,
        grower_code="ALDER",
        holder=holder,
        state="in_stock",
        mass_kg=Decimal("12.5"),
        packages=(Package(kind="box", count=2, net_kg=Decimal("5.25")),),
    )
    recall = Recall(
        code=code,
        lot_code=lot_code,
        grower_code="ALDER",
        concern="mould",
        words="do not use",
        opened_at=NOW,
        opened_by="specialist",
        lines=(line,),
    )
    recalls.add(session, recall)
    return recalls.get(session, code)


def test_a_recall_comes_back_as_it_went_in_and_as_it_was_answered(session: Session) -> None:
    lot = LotRowFactory(grower_id=PartyRowFactory(code="ALDER").id)
    kept = a_recall(session, "ALDER-REC-01", lot.code, "grower:ALDER")
    assert kept.lines[0].packages == (Package(kind="box", count=2, net_kg=Decimal("5.25")),)

    answered = replace(kept.lines[0], acknowledged_at=NOW, acknowledged_by="grower:ALDER", left_kg=Decimal(3))
    changed = replace(kept, lines=(answered,), closed_at=NOW, closed_by="specialist", finding="none")
    recalls.change(session, changed)

    assert recalls.get(session, "ALDER-REC-01", lock=True) == changed
    with pytest.raises(NotFound):
        recalls.get(session, "ALDER-REC-02")


def test_recalls_are_found_by_whom_they_concern_newest_first(session: Session) -> None:
    lot = LotRowFactory(grower_id=PartyRowFactory(code="ALDER").id)
    for number, holder in enumerate(("grower:ALDER", "brewery:FINCH", "brewery:FINCH"), 1):
        a_recall(session, f"ALDER-REC-0{number}", lot.code, holder)

    def codes(concerning: str | None, after: int | None = None) -> list[str]:
        found = recalls.search(session, concerning=concerning, after=after, limit=9)
        return [recall.code[-2:] for recall, _ in found]

    assert codes(None) == ["03", "02", "01"]
    assert codes("brewery:FINCH") == ["03", "02"]
    assert codes("grower:ALDER") == ["03", "02", "01"]
    assert codes("brewery:TEAL") == []
    newest = recalls.search(session, concerning=None, after=None, limit=1)[0][1]
    assert codes(None, after=newest) == ["02", "01"]
