"""Letters, to a real mail server on loopback."""

from collections.abc import Iterator

import pytest

from service.couriers.mail import Postbox, compose
from service.market.trade.notices import Letter
from tests.couriers.post_office import PostOffice, open_post_office
from tests.factories import NOW

LETTER = Letter(
    to="hops@finch.example",
    subject="Lot ALDER-2026-01: Hüll’s “Ψ”",
    text="120.5 kg free. Žatec, Ελλάδα\n.\na dot alone on a line\n",
    message_id="<notice-12@hops.example.org>",
    notice_number=12,
    written_at=NOW,
)


@pytest.fixture
def office() -> Iterator[PostOffice]:
    with open_post_office() as office:
        yield office


def test_a_letter_comes_as_it_was_written(office: PostOffice) -> None:
    with Postbox(office.url, sender="notices@hops.example.org") as postbox:
        outcomes = [postbox.send(LETTER), postbox.send(LETTER)]

    assert [outcome.problem for outcome in outcomes] == [None, None]
    first, second = office.letters
    assert first["Message-ID"] == second["Message-ID"] == "<notice-12@hops.example.org>"
    assert first["Oastbook-Notice"] == "12"
    assert first["Date"] == second["Date"] == "Wed, 25 Nov 2026 09:30:00 +0000"
    assert office.envelopes[0].rcpt_tos == ["hops@finch.example"]
    body = first.get_payload(decode=True)
    assert isinstance(body, bytes)
    assert body.decode().replace("\r\n", "\n") == LETTER.text


def test_a_busy_server_is_no_reason_to_give_up(office: PostOffice) -> None:
    office.refuse_data = ["451 try later"]

    with Postbox(office.url, sender="notices@hops.example.org") as postbox:
        first, second = postbox.send(LETTER), postbox.send(LETTER)

    assert first.problem is not None
    assert first.problem.startswith("451")
    assert not first.for_good
    assert second.problem is None


@pytest.mark.parametrize(("answer", "for_good"), [("550 no such box", True), ("450 box is full", False)])
def test_an_address_that_is_refused_is_given_up_when_it_is_for_good(
    office: PostOffice, answer: str, for_good: bool
) -> None:
    office.refuse_rcpt = answer

    with Postbox(office.url, sender="notices@hops.example.org") as postbox:
        outcome = postbox.send(LETTER)

    assert (outcome.problem, outcome.for_good) == (answer, for_good)


def test_a_silent_server_is_tried_again() -> None:
    with open_post_office() as office:
        gone = office.url
    with Postbox(gone, sender="notices@hops.example.org") as postbox:
        outcome = postbox.send(LETTER)

    assert outcome.problem is not None
    assert "refused" in outcome.problem.lower()
    assert not outcome.for_good


@pytest.mark.parametrize("scheme", ["smtp+starttls", "smtps"])
def test_encryption_that_is_asked_for_is_never_done_without(office: PostOffice, scheme: str) -> None:
    with Postbox(office.url.replace("smtp", scheme, 1), sender="notices@hops.example.org") as postbox:
        outcome = postbox.send(LETTER)

    assert outcome.problem is not None
    assert office.letters == []


@pytest.mark.parametrize("to", ["a@b.example\nBcc: all@b.example", "no address", ""])
def test_an_address_that_no_mail_may_carry_is_never_sent(office: PostOffice, to: str) -> None:
    letter = Letter(to=to, subject="x", text="x", message_id="<1@x>", notice_number=1, written_at=NOW)

    with Postbox(office.url, sender="notices@hops.example.org") as postbox:
        outcome = postbox.send(letter)

    assert outcome.for_good
    assert office.letters == []


def test_a_subject_cannot_smuggle_a_header_in() -> None:
    letter = Letter(
        to="a@b.example",
        subject="x\r\nBcc: all@b.example",
        text="x",
        message_id="<1@x>",
        notice_number=1,
        written_at=NOW,
    )

    with pytest.raises(ValueError, match=r"(?i)header|linefeed|newline"):
        compose(letter, sender="notices@hops.example.org")
