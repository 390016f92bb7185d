"""oastbook deliver: tell people what happened, once or again and again."""

import argparse
import signal
import sys
import threading
from functools import partial
from types import FrameType
from typing import Any
from urllib.parse import urlsplit

from service.cli.records import are_migrated
from service.couriers.mail import Postbox
from service.errors import Refusal
from service.market.changes import HOUSE, Signature
from service.market.notices import Telling
from service.records.session import Records, open_records
from service.settings import Settings, read_settings
from service.usecases.notices import Sent, gather_notices, note_letter, take_letters
from service.visit import read_clock


def add_to(commands: Any) -> None:
    """Add the command."""
    delivering = commands.add_parser(
        "deliver", help="tell breweries of new lots they want, holders of recalls, both sides of promises"
    )
    delivering.add_argument(
        "--loop", type=float, metavar="SECONDS", help="again and again, with such a pause"
    )
    delivering.set_defaults(run=run)


def run(parsed: argparse.Namespace) -> int:
    """Deliver what waits; with --loop until told to stop."""
    settings = read_settings()
    if not are_migrated(settings.database_url):
        return 2
    if parsed.loop is not None and not 1 <= parsed.loop <= 86_400:
        print("oastbook: --loop takes 1 to 86400 seconds", file=sys.stderr)
        return 2
    records = open_records(settings.database_url)
    stop = _stop_when_told() if parsed.loop is not None else None
    try:
        while True:
            if stop is None:
                deliver_once(records, settings)
                return 0
            _deliver_a_round(records, settings)
            if stop.wait(parsed.loop):
                return 0
    finally:
        records.close()


def deliver_once(records: Records, settings: Settings) -> None:
    """Tell of everything that waits, then send the letters that are due."""
    by_mail = settings.smtp_url is not None
    while True:
        now = read_clock(settings.today)
        telling = Telling(now=now, public_url=settings.public_url, by_mail=by_mail)
        events, told = records.write(
            partial(gather_notices, telling=telling), signed=Signature(by=HOUSE, at=now)
        )
        if not events:
            break
        print(f"{events} events, {told} new notices", file=sys.stderr)
    if settings.smtp_url is not None and settings.mail_from is not None:
        _send_letters(records, settings, settings.smtp_url, settings.mail_from)


def _deliver_a_round(records: Records, settings: Settings) -> None:
    """One round of a loop: what is refused now, as by records that are busy, waits for the next."""
    try:
        deliver_once(records, settings)
    except Refusal as refusal:
        print(f"oastbook: {refusal.detail}; the next round tries again", file=sys.stderr)


def _send_letters(records: Records, settings: Settings, url: str, sender: str) -> None:
    host = urlsplit(settings.public_url).hostname or "localhost"
    with Postbox(url, sender=sender) as postbox:
        while True:
            now = read_clock(settings.today)
            letters = records.write(partial(take_letters, host=host, now=now))
            if not letters:
                return
            for letter in letters:
                outcome = postbox.send(letter)
                sent = Sent(problem=outcome.problem, for_good=outcome.for_good)
                number, went_at = letter.notice_number, read_clock(settings.today)
                records.write(partial(note_letter, number=number, sent=sent, now=went_at))
                told = "sent" if sent.problem is None else f"not sent: {sent.problem}"
                print(f"notice {number} to {letter.to}: {told}", file=sys.stderr)


def _stop_when_told() -> threading.Event:
    stop = threading.Event()

    def told(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    signal.signal(signal.SIGTERM, told)
    signal.signal(signal.SIGINT, told)
    return stop
