"""Notices in the books, on both databases."""

from datetime import timedelta

import pytest

from service.errors import NotFound
from service.facts import replace
from service.market.trade.notices import Event, Notice
from service.records.session import Session
from service.records.trade import notices, outbox
from tests.factories import NOW, PartyRowFactory


@pytest.fixture
def event(session: Session) -> Event:
    PartyRowFactory(kind="brewery", code="FINCH", email="hops@finch.example")
    outbox.add(session, Event(kind="lot_listed", lot_code="ALDER-2026-01", made_at=NOW))
    (event,) = outbox.take_waiting(session, limit=9)
    return event


def a_notice(event: Event, **told: object) -> Notice:
    plain = {
        "party": "brewery:FINCH",
        "event_number": event.number,
        "source": "request:R",
        "kind": "lot_listed",
    }
    return Notice(**plain | {"subject": "s", "words": "w", "made_at": NOW, "mail_state": "waiting"} | told)


def test_a_party_is_told_once_for_each_reason(session: Session, event: Event) -> None:
    assert notices.put(session, a_notice(event))
    assert not notices.put(session, a_notice(event, words="again"))
    assert notices.put(session, a_notice(event, source="search:S"))

    found = notices.search(session, party="brewery:FINCH", unread=False, after=None, limit=9)
    assert [(notice.source, notice.words) for notice in found] == [("search:S", "w"), ("request:R", "w")]
    assert notices.search(session, party="brewery:TEAL", unread=False, after=None, limit=9) == []
    with pytest.raises(NotFound):
        notices.get(session, found[0].number, party="brewery:TEAL")


def test_letters_are_due_by_the_clock(session: Session, event: Event) -> None:
    notices.put(session, a_notice(event, mail_after=NOW))
    notices.put(session, a_notice(event, source="b", mail_after=NOW + timedelta(hours=1)))
    notices.put(session, a_notice(event, source="c", mail_state="none"))

    due = notices.take_due(session, now=NOW, limit=9)

    assert [(notice.source, address) for notice, address in due] == [("request:R", "hops@finch.example")]
    changed = replace(due[0][0], mail_state="sent", mail_after=None, read_at=NOW)
    notices.change(session, changed)
    assert notices.take_due(session, now=NOW, limit=9) == []
    assert notices.get(session, changed.number, party=None) == changed
    unread = notices.search(session, party=None, unread=True, after=None, limit=9)
    assert [notice.source for notice in unread] == ["c", "b"]
