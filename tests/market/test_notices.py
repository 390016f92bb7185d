"""Notices: what they say, when a letter is tried again, and when it is given up."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.market.notices import (
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
    take_up,
)
from service.market.recalls import Recall
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


def test_a_letter_has_one_name_however_often_it_is_sent() -> None:
    first = letter_of(a_notice(), to="a@finch.example", host="hops.example.org")
    again = letter_of(take_up(a_notice(), now=NOW), to="a@finch.example", host="hops.example.org")

    assert first == again
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
