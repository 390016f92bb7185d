"""What happened waits in the books, on both databases."""

from service.facts import replace
from service.market.trade.notices import Event
from service.records.session import Session
from service.records.trade import outbox
from tests.factories import NOW


def test_an_event_waits_until_it_is_closed(session: Session) -> None:
    outbox.add(session, Event(kind="lot_listed", lot_code="ALDER-2026-01", made_at=NOW))
    outbox.add(session, Event(kind="recall_opened", lot_code="B", recall_code="REC", made_at=NOW))

    first, second = outbox.take_waiting(session, limit=9)

    assert first == Event(number=first.number, kind="lot_listed", lot_code="ALDER-2026-01", made_at=NOW)
    assert second.recall_code == "REC"
    promised = Event(
        kind="hold_made", lot_code="B", reservation_code="FINCH-RES-01", by_side="brewery", made_at=NOW
    )
    outbox.add(session, promised)
    third = outbox.take_waiting(session, limit=9)[2]
    assert third == replace(promised, number=third.number)
    outbox.close(session, [first, third], now=NOW)
    assert outbox.take_waiting(session, limit=9) == [second]
    assert outbox.take_waiting(session, limit=0) == []
