"""Telling people: what happened becomes notices, notices become letters, and each party reads its own."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from service.errors import InvalidRequest, NotFound
from service.facts import Fact, replace
from service.market.goods.cultivars import keys_for_search
from service.market.goods.lots import Lot
from service.market.matching.matching import rank_lots
from service.market.matching.requests import Request
from service.market.matching.search import wish_of
from service.market.people.access import Caller, acting_party, require_known
from service.market.trade.notices import (
    Event,
    Letter,
    Notice,
    SavedSearch,
    Telling,
    letter_failed,
    letter_of,
    letter_went,
    lot_notice,
    recall_notice,
    reservation_notices,
    take_up,
)
from service.records.goods import cultivars, lots
from service.records.matching import lot_lines, matching, requests, saved_searches
from service.records.people import parties
from service.records.session import Session
from service.records.trade import notices, outbox, recalls, reservations

EVENTS_AT_ONCE = 100
LETTERS_AT_ONCE = 50
SAVED_MAX = 100


class Sent(Fact, frozen=True):
    """How a letter went: nothing, or why not and whether that is for good."""

    problem: str | None = None
    for_good: bool = False


Send = Callable[[Letter], Sent]


def save_search(
    session: Session,
    *,
    caller: Caller,
    name: str,
    filters: Mapping[str, Any],
    by_mail: bool,
    brewery_code: str | None,
    now: datetime,
) -> SavedSearch:
    """Keep a search that a brewery wants to hear about.

    Raises:
        TokenNeeded, NotAllowed, InvalidRequest: it is not clear for which brewery, or the filters do not go together.

    """
    brewery = acting_party(caller, kind="brewery", named=brewery_code)
    parties.get(session, "brewery", brewery)
    _wish(session, filters, now)
    if len(saved_searches.search(session, brewery_code=brewery)) >= SAVED_MAX:
        raise InvalidRequest(f"{brewery} keeps {SAVED_MAX} searches already; remove one first")
    saved = SavedSearch(
        code=saved_searches.next_code(session, brewery),
        brewery_code=brewery,
        name=name,
        filters=filters,
        by_mail=by_mail,
        made_at=now,
        made_by=caller.name,
    )
    saved_searches.add(session, saved)
    return saved


def list_searches(session: Session, *, caller: Caller) -> Sequence[SavedSearch]:
    """The caller's saved searches; the specialist sees everybody's.

    Raises:
        TokenNeeded: no known token came along.

    """
    require_known(caller)
    if caller.role == "grower":
        return []
    return saved_searches.search(session, brewery_code=caller.party_code)


def forget_search(session: Session, code: str, *, caller: Caller) -> None:
    """Take a saved search out of the books.

    Raises:
        TokenNeeded, NotFound: it is not the caller's.

    """
    require_known(caller)
    saved = saved_searches.get(session, code)
    if not caller.acts_for("brewery", saved.brewery_code):
        raise NotFound(f"there is no saved search {code}")
    saved_searches.remove(session, code)


def list_notices(
    session: Session, *, caller: Caller, unread: bool, after: int | None, limit: int
) -> Sequence[Notice]:
    """What the caller was told, newest first; the specialist sees everybody's.

    Raises:
        TokenNeeded: no known token came along.

    """
    require_known(caller)
    party = None if caller.is_specialist else caller.name
    return notices.search(session, party=party, unread=unread, after=after, limit=limit)


def read_notice(session: Session, number: int, *, caller: Caller, now: datetime) -> Notice:
    """Mark a notice as read; twice changes nothing.

    Raises:
        TokenNeeded, NotFound: it is not the caller's.

    """
    require_known(caller)
    notice = notices.get(session, number, party=caller.name)
    if notice.read_at is None:
        notice = replace(notice, read_at=now)
        notices.change(session, notice)
    return notice


def gather_notices(session: Session, telling: Telling) -> tuple[int, int]:
    """Look at what happened and tell those concerned; how many events and how many new notices.

    One transaction: a process that dies in it leaves everything as it was, and a party that was told is not told twice.
    """
    events = outbox.take_waiting(session, limit=EVENTS_AT_ONCE)
    told = sum(notices.put(session, notice) for notice in _notices(session, events, telling))
    outbox.close(session, events, now=telling.now)
    return len(events), told


def _notices(session: Session, events: Sequence[Event], telling: Telling) -> Iterator[Notice]:
    listed = {event.lot_code: event for event in events if event.kind == "lot_listed"}
    found = lots.get_many(session, listed, now=telling.now) if listed else {}
    shown = {code: lot for code, lot in found.items() if lot.state == "listed" and lot.free_kg > 0}
    if shown:
        yield from _of_searches(session, listed, shown, telling)
        yield from _of_requests(session, listed, shown, telling)
    for event in events:
        if event.kind == "recall_opened" and event.recall_code is not None:
            recall = recalls.get(session, event.recall_code)
            for party in dict.fromkeys(line.holder for line in recall.lines):
                yield recall_notice(event, recall, telling, party=party)
        elif event.reservation_code is not None:
            promise = reservations.get(session, event.reservation_code)
            is_listed = lots.get(session, promise.lot_code, now=telling.now).state == "listed"
            yield from reservation_notices(event, promise, telling, is_listed=is_listed)


def _of_searches(
    session: Session, listed: Mapping[str, Event], shown: Mapping[str, Lot], telling: Telling
) -> Iterator[Notice]:
    for saved in saved_searches.search(session, brewery_code=None):
        wish = _wish(session, saved.filters, telling.now)
        # Of what was listed before somebody asked, nobody is told.
        since = [code for code in shown if listed[code].made_at >= saved.made_at]
        for code in lot_lines.passing(session, wish, since, now=telling.now):
            yield lot_notice(
                listed[code],
                shown[code],
                telling,
                party=f"brewery:{saved.brewery_code}",
                source=f"search:{saved.code}",
                why=f"It passes your saved search “{saved.name}”.",
                wants_mail=saved.by_mail,
            )


def _of_requests(
    session: Session, listed: Mapping[str, Event], shown: Mapping[str, Lot], telling: Telling
) -> Iterator[Notice]:
    for request in requests.search_standing(session, today=telling.now.date()):
        asked_at = request.made_at or telling.now
        since = {code: lot for code, lot in shown.items() if listed[code].made_at >= asked_at}
        for code in _matching(session, request, since, telling.now):
            yield lot_notice(
                listed[code],
                shown[code],
                telling,
                party=f"brewery:{request.brewery_code}",
                source=f"request:{request.code}",
                why=f"It meets your standing request {request.code}.",
            )


def _wish(session: Session, filters: Mapping[str, Any], now: datetime) -> Any:
    keys: tuple[str, ...] = ()
    if filters.get("cultivar") is not None:
        keys = keys_for_search(filters["cultivar"], cultivars.search(session))
    return wish_of(filters, cultivar_keys=keys, today=now.date(), sees_all_prices=True)


def _matching(session: Session, request: Request, shown: Mapping[str, Lot], now: datetime) -> list[str]:
    regional = cultivars.search(session)
    keys = tuple(key for name in request.cultivars for key in keys_for_search(name, regional))
    near = parties.get(session, "brewery", request.brewery_code).unit_vector
    today = now.date()
    around = matching.candidates(session, request, cultivar_keys=keys, near=near, today=today, now=now)
    ranking = rank_lots(request, around, cultivar_keys=keys, today=today)
    return [code for place in ranking.order if (code := ranking.lots.code[place]) in shown]


def take_letters(session: Session, *, host: str, now: datetime) -> list[Letter]:
    """Take up the letters that are due; for five minutes nobody else does."""
    letters = []
    for notice, address in notices.take_due(session, now=now, limit=LETTERS_AT_ONCE):
        if address is None:
            problem = "the party gave no address"
            notices.change(session, letter_failed(notice, problem=problem, for_good=True, now=now))
            continue
        taken = take_up(notice, now=now)
        notices.change(session, taken)
        letters.append(letter_of(taken, to=address, host=host))
    return letters


def note_letter(session: Session, number: int, *, sent: Sent, now: datetime) -> Notice:
    """Note how a letter went."""
    notice = notices.get(session, number, party=None)
    if sent.problem is None:
        noted = letter_went(notice, now=now)
    else:
        noted = letter_failed(notice, problem=sent.problem, for_good=sent.for_good, now=now)
    notices.change(session, noted)
    return noted
