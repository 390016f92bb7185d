"""oastbook deliver: notify people of what happened, once or in a loop."""

import argparse
import signal
import sys
import threading
from functools import partial
from types import FrameType
from typing import Any
from urllib.parse import urlsplit

from service.cli.records import are_migrated
from service.clock import Clock, clock_from
from service.couriers.mail import Postbox
from service.errors import Refusal
from service.market.goods.audit_trail import HOUSE, Signature
from service.market.trade.notices import Telling
from service.records.session import Records, open_records
from service.settings import Settings, read_settings
from service.usecases.trade.notices import Sent, gather_notices, note_letter, take_letters

# A loop that is refused round after round looks in at least so often, or as often as it was told to.
LONGEST_WAIT_S = 300.0


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
    """Deliver what waits; with --loop until a signal stops it."""
    settings = read_settings()
    if not are_migrated(settings.database_url):
        return 2
    if parsed.loop is not None and not 1 <= parsed.loop <= 86_400:
        print("oastbook: --loop takes 1 to 86400 seconds", file=sys.stderr)
        return 2
    records, clock = open_records(settings.database_url), parsed.clock or clock_from(settings.today)
    try:
        if parsed.loop is None:
            deliver_once(records, settings, clock)
        else:
            _deliver_in_a_loop(records, settings, clock, pause_s=parsed.loop, stop=_stop_on_signal())
        return 0
    finally:
        records.close()


def deliver_once(records: Records, settings: Settings, clock: Clock) -> None:
    """Make notices of all events that wait, then send the letters that are due."""
    by_mail = settings.smtp_url is not None
    while True:
        now = clock()
        telling = Telling(now=now, public_url=settings.public_url, by_mail=by_mail)
        events, told = records.write(
            partial(gather_notices, telling=telling), signed=Signature(by=HOUSE, at=now)
        )
        if not events:
            break
        print(f"{events} events, {told} new notices", file=sys.stderr)
    if settings.smtp_url is not None and settings.mail_from is not None:
        _send_letters(records, settings, clock, settings.smtp_url, settings.mail_from)


def _deliver_in_a_loop(
    records: Records, settings: Settings, clock: Clock, *, pause_s: float, stop: threading.Event
) -> None:
    """Deliver round after round; a round that is refused, as by busy records, is tried again in the next."""
    refused = 0
    while True:
        try:
            deliver_once(records, settings, clock)
            refused = 0
        except Refusal as refusal:
            refused += 1
            wait_s = wait_after(refused, pause_s=pause_s)
            print(f"oastbook: {refusal.detail}; trying again in {wait_s:g} s", file=sys.stderr, flush=True)
        if stop.wait(wait_after(refused, pause_s=pause_s)):
            return


def wait_after(refused: int, *, pause_s: float) -> float:
    """How long a loop waits after so many refused rounds on end: twice as long each time, up to five minutes.

    >>> [wait_after(refused, pause_s=60.0) for refused in (0, 1, 2, 3, 99)]
    [60.0, 120.0, 240.0, 300.0, 300.0]
    >>> wait_after(3, pause_s=3600.0)
    3600.0

    """
    return min(pause_s * 2.0 ** min(refused, 20), max(pause_s, LONGEST_WAIT_S))


def _send_letters(records: Records, settings: Settings, clock: Clock, url: str, sender: str) -> None:
    host = urlsplit(settings.public_url).hostname or "localhost"
    with Postbox(url, sender=sender) as postbox:
        while True:
            now = clock()
            letters = records.write(partial(take_letters, host=host, now=now))
            if not letters:
                return
            for letter in letters:
                outcome = postbox.send(letter)
                sent = Sent(problem=outcome.problem, for_good=outcome.for_good)
                number, went_at = letter.notice_number, clock()
                records.write(partial(note_letter, number=number, sent=sent, now=went_at))
                told = "sent" if sent.problem is None else f"not sent: {sent.problem}"
                print(f"notice {number} to {letter.to}: {told}", file=sys.stderr)


def _stop_on_signal() -> threading.Event:
    stop = threading.Event()

    def set_stop(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    signal.signal(signal.SIGTERM, set_stop)
    signal.signal(signal.SIGINT, set_stop)
    return stop
