"""Notices: what they say, when a letter is tried again, and when it is given up."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.facts import replace
from service.market.trade.notices import (
    LEASE,
    LONGEST_WAIT,
    TRIES_MAX,
    Event,
    Notice,
    Telling,
    letter_failed,
    letter_of,
    letter_went,
    lot_notice,
    recall_notice,
    reservation_event,
    reservation_notices,
    take_up,
)
from service.market.trade.recalls import Recall
from service.market.trade.reservations import Reservation
from tests.factories import NOW, ListedLotFactory

TELLING = Telling(now=NOW, public_url="https://hops.example.org", by_mail=True)
EVENT = Event(number=7, kind="lot_listed", lot_code="ALDER-2026-01", made_at=NOW)


def a_notice(**told: Any) -> Notice:
    lot = ListedLotFactory(code="ALDER-2026-01", mass_kg=Decimal("120.5"))
    plain = {"party": "brewery:FINCH", "source": "search:FINCH-ASK-01", "why": "It passes your saved search."}
    return lot_notice(EVENT, lot, TELLING, **plain | told)


def test_a_notice_says_what_whose_how_much_why_and_where() -> None:
    notice = a_notice()

    assert notice.subject == "Lot ALDER-2026-01: Willamette, whole cone, crop 2026"
    for said in ("grower ALDER", "120.5 kg free", "analysed", "saved search", "/v1/lots/ALDER-2026-01"):
        assert said in notice.words
    assert (notice.event_number, notice.mail_state, notice.mail_after) == (7, "waiting", NOW)


def test_an_announced_lot_is_told_by_what_is_expected() -> None:
    lot = ListedLotFactory(mass_kg=None, expected_kg=Decimal(80), readiness="announced", crop_year=None)

    notice = lot_notice(EVENT, lot, TELLING, party="brewery:FINCH", source="x", why="")

    assert "80 kg expected" in notice.words
    assert "crop" not in notice.subject


def test_without_a_mail_server_or_a_wish_nothing_waits_to_be_mailed() -> None:
    feed_only = Telling(now=NOW, public_url="https://hops.example.org", by_mail=False)

    assert a_notice(wants_mail=False).mail_state == "none"
    assert (
        lot_notice(EVENT, ListedLotFactory(), feed_only, party="brewery:FINCH", source="x", why="").mail_state
        == "none"
    )


def test_a_recall_tells_to_stop_and_how_to_answer() -> None:
    recall = Recall(
        code="ALDER-REC-01",
        lot_code="ALDER-2026-01",
        grower_code="ALDER",
        concern="foreign_matter",
        words="wire; do not use.",
        opened_at=NOW,
        opened_by="grower:ALDER",
    )

    notice = recall_notice(EVENT, recall, TELLING, party="brewery:FINCH")

    assert "stop" in notice.subject
    assert "foreign matter: wire; do not use." in notice.words
    assert "/v1/recalls/ALDER-REC-01" in notice.words


PROMISE = Reservation(
    code="FINCH-RES-01",
    lot_code="ALDER-2026-01",
    grower_code="ALDER",
    brewery_code="FINCH",
    request_code="FINCH-REQ-01",
    state="held",
    mass_kg=Decimal("40.5"),
    held_until=NOW + timedelta(days=7),
    made_at=NOW,
    made_by="brewery:FINCH",
    changed_at=NOW,
    changed_by="brewery:FINCH",
)
OFFER = replace(PROMISE, state="offered", grower_confirmed=True, held_until=None)
CONFIRMED = replace(
    PROMISE, state="confirmed", grower_confirmed=True, brewery_confirmed=True, held_until=None
)
RELEASED = replace(PROMISE, state="released")


def of_promise(
    promise: Reservation, by_side: str | None, *, later: Reservation | None = None, telling: Telling = TELLING
) -> list[tuple[str, str]]:
    event = reservation_event(promise, by_side=by_side, now=NOW)
    assert event is not None
    told = reservation_notices(replace(event, number=7), later or promise, telling)
    assert {notice.kind for notice in told} <= {event.kind}
    return [(notice.party, notice.words) for notice in told]


@pytest.mark.parametrize(
    ("promise", "by_side", "party", "said"),
    [
        (
            PROMISE,
            "brewery",
            "grower:ALDER",
            "FINCH holds 40.5 kg of lot ALDER-2026-01 for request FINCH-REQ-01",
        ),
        (PROMISE, "brewery", "grower:ALDER", "until 2026-12-02 09:30 UTC. Confirm it, or give it up."),
        (OFFER, "grower", "brewery:FINCH", "ALDER offers 40.5 kg of lot ALDER-2026-01"),
        (OFFER, "grower", "brewery:FINCH", "Nothing is taken until you confirm"),
        (CONFIRMED, "grower", "brewery:FINCH", "ALDER confirmed; by both sides now: 40.5 kg"),
        (CONFIRMED, "brewery", "grower:ALDER", "FINCH confirmed"),
        (RELEASED, "grower", "brewery:FINCH", "ALDER gave up 40.5 kg"),
        (RELEASED, "brewery", "grower:ALDER", "FINCH gave up 40.5 kg"),
    ],
)
def test_the_side_that_did_not_speak_is_told(
    promise: Reservation, by_side: str, party: str, said: str
) -> None:
    ((told, words),) = of_promise(promise, by_side)

    assert told == party
    assert said in words
    assert words.endswith("https://hops.example.org/v1/reservations/FINCH-RES-01")


def test_both_sides_are_told_what_the_specialist_gave_up() -> None:
    told = of_promise(RELEASED, None)

    assert [party for party, _ in told] == ["grower:ALDER", "brewery:FINCH"]
    assert all(words.startswith("the specialist gave up") for _, words in told)


@pytest.mark.parametrize(
    ("promise", "by_side", "later"),
    [
        (PROMISE, "brewery", RELEASED),
        (PROMISE, "brewery", CONFIRMED),
        (PROMISE, "brewery", replace(PROMISE, grower_confirmed=True)),
        (PROMISE, "brewery", replace(PROMISE, held_until=NOW)),
        (OFFER, "grower", RELEASED),
        (CONFIRMED, "brewery", RELEASED),
    ],
)
def test_of_what_is_no_longer_so_nobody_is_told(
    promise: Reservation, by_side: str, later: Reservation
) -> None:
    assert of_promise(promise, by_side, later=later) == []


def test_what_was_confirmed_is_told_also_once_it_is_delivered() -> None:
    delivered = replace(CONFIRMED, state="delivered", delivered_kg=Decimal(40))

    assert len(of_promise(CONFIRMED, "grower", later=delivered)) == 1


def test_a_change_that_leaves_a_promise_as_it_was_is_no_event() -> None:
    said = replace(PROMISE, grower_confirmed=True)

    assert reservation_event(said, before=PROMISE, by_side="grower", now=NOW) is None
    assert (
        reservation_event(replace(CONFIRMED, state="delivered"), before=CONFIRMED, by_side="grower", now=NOW)
        is None
    )


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("lot_listed", "You asked to be told of this (search S)."),
        ("recall_opened", "The recall names hops that you hold or were promised (search S)."),
        ("hold_made", "You are one of its two sides (search S)."),
        ("reservation_released", "You are one of its two sides (search S)."),
    ],
)
def test_a_letter_says_truly_why_it_comes(kind: str, said: str) -> None:
    letter = letter_of(replace(a_notice(source="search:S"), kind=kind), to="a@b.example", host="x")

    assert said in letter.text
    assert ("You asked" in letter.text) == (kind == "lot_listed")


def test_a_letter_has_one_name_however_often_it_is_sent() -> None:
    first = letter_of(a_notice(), to="a@finch.example", host="hops.example.org")
    again = letter_of(take_up(a_notice(), now=NOW), to="a@finch.example", host="hops.example.org")

    assert first == again
    assert first.written_at == NOW
    assert first.message_id == "<notice-0@hops.example.org>"


def test_a_letter_that_is_taken_up_is_left_alone_for_a_while() -> None:
    taken = take_up(a_notice(), now=NOW)

    assert (taken.mail_tries, taken.mail_after) == (1, NOW + LEASE)
    assert letter_went(taken, now=NOW).mail_state == "sent"


@given(st.integers(1, TRIES_MAX - 1))
def test_each_failure_waits_longer_up_to_six_hours(tries: int) -> None:
    def wait(count: int) -> timedelta:
        failed = letter_failed(
            Notice(**{**PLAIN, "mail_tries": count}), problem="busy", for_good=False, now=NOW
        )
        assert failed.mail_state == "waiting"
        assert failed.mail_after is not None
        return failed.mail_after - NOW

    assert timedelta(minutes=1) <= wait(tries) <= LONGEST_WAIT
    assert tries == 1 or wait(tries) >= wait(tries - 1)


PLAIN: dict[str, Any] = {
    "party": "brewery:FINCH",
    "event_number": 7,
    "kind": "lot_listed",
    "source": "x",
    "subject": "s",
    "words": "w",
    "made_at": NOW,
    "mail_state": "waiting",
}


@pytest.mark.parametrize(("tries", "for_good"), [(1, True), (TRIES_MAX, False)])
def test_a_letter_is_given_up_with_its_reason(tries: int, for_good: bool) -> None:
    failed = letter_failed(
        Notice(**{**PLAIN, "mail_tries": tries}), problem="550 no such box", for_good=for_good, now=NOW
    )

    assert (failed.mail_state, failed.mail_after, failed.mail_problem) == (
        "given_up",
        None,
        "550 no such box",
    )


def test_where_the_specialist_spoke_both_are_told_and_the_one_spoken_for_may_give_it_up() -> None:
    told = dict(of_promise(OFFER, None))

    assert set(told) == {"grower:ALDER", "brewery:FINCH"}
    assert "the specialist offers 40.5 kg" in told["brewery:FINCH"]
    assert "That was said for the grower." in told["brewery:FINCH"]
    assert "That was said for you: give it up if it is not so." in told["grower:ALDER"]
    held = dict(of_promise(PROMISE, None))
    assert "That was said for you" in held["brewery:FINCH"]
    assert "That was said for the brewery." in held["grower:ALDER"]


def test_an_offer_of_a_lot_that_is_no_longer_listed_is_told_to_nobody() -> None:
    event = reservation_event(OFFER, by_side="grower", now=NOW)
    assert event is not None

    assert list(reservation_notices(event, OFFER, TELLING, is_listed=False)) == []
    held = reservation_event(PROMISE, by_side="brewery", now=NOW)
    assert held is not None
    assert len(list(reservation_notices(held, PROMISE, TELLING, is_listed=False))) == 1
