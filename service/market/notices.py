"""Who is told what: lines that wait to be looked at, saved searches, notices and letters."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from service.facts import Fact, replace
from service.market.lots import Lot
from service.market.recalls import Recall

# A letter that did not go is tried again after 1, 2, 4 … minutes, at most every 6 hours; after 14 tries, about two
# days, it is given up and the feed says so. House figures; assumption, no source.
FIRST_WAIT = timedelta(minutes=1)
LONGEST_WAIT = timedelta(hours=6)
TRIES_MAX = 14
# So long nobody else takes up a letter that somebody is about to send.
LEASE = timedelta(minutes=5)


class Event(Fact, frozen=True, kw_only=True):
    """Something that happened, written in the transaction in which it did, and looked at later."""

    number: int = 0
    kind: str
    lot_code: str
    recall_code: str | None = None
    made_at: datetime


class SavedSearch(Fact, frozen=True, kw_only=True):
    """A search that a brewery wants to hear about; `filters` as the search itself takes them."""

    code: str = ""
    brewery_code: str
    name: str
    filters: Mapping[str, Any]
    by_mail: bool = True
    made_at: datetime
    made_by: str


class Notice(Fact, frozen=True, kw_only=True):
    """What a party is told; `number` is its name for good, so that one that comes twice can be dropped."""

    number: int = 0
    party: str
    event_number: int
    source: str
    subject: str
    words: str
    lot_code: str | None = None
    made_at: datetime
    read_at: datetime | None = None
    mail_state: str = "none"
    mail_tries: int = 0
    mail_after: datetime | None = None
    mail_sent_at: datetime | None = None
    mail_problem: str | None = None


class Letter(Fact, frozen=True, kw_only=True):
    """A notice as mail; `message_id` stays the same however often it is sent."""

    to: str
    subject: str
    text: str
    message_id: str
    notice_number: int


class Telling(Fact, frozen=True, kw_only=True):
    """One round of telling: when, under what address the house is found, and whether letters can go."""

    now: datetime
    public_url: str
    by_mail: bool

    def notice(self, event: Event, *, wants_mail: bool = True, **told: Any) -> Notice:
        """A notice of this round."""
        mailed = self.by_mail and wants_mail
        return Notice(
            event_number=event.number,
            made_at=self.now,
            mail_state="waiting" if mailed else "none",
            mail_after=self.now if mailed else None,
            **told,
        )


def lot_notice(
    event: Event, lot: Lot, telling: Telling, *, party: str, source: str, why: str, wants_mail: bool = True
) -> Notice:
    """Tell a brewery of a lot that was listed, and why it is told."""
    goods = f"{lot.shown_cultivar or 'blend'}, {lot.form.replace('_', ' ')}"
    facts = [
        f"{goods}, crop {lot.crop_year}" if lot.crop_year else goods,
        f"grower {lot.grower_code}",
        f"{lot.free_kg} kg {'free' if lot.mass_kg else 'expected'}",
        f"listed as {(lot.readiness or '').replace('_', ' ')}",
    ]
    return telling.notice(
        event,
        wants_mail=wants_mail,
        party=party,
        source=source,
        subject=f"Lot {lot.code}: {facts[0]}",
        words=f"{'; '.join(facts)}. {why} {telling.public_url}/v1/lots/{lot.code}",
        lot_code=lot.code,
    )


def recall_notice(event: Event, recall: Recall, telling: Telling, *, party: str) -> Notice:
    """Tell a holder of a recall, and how to answer."""
    return telling.notice(
        event,
        party=party,
        source=f"recall:{recall.code}",
        subject=f"Recall {recall.code}: stop using what you hold",
        words=(
            f"{recall.concern.replace('_', ' ')}: {recall.words.rstrip('. ')}. See which kilograms are meant, and"
            f" acknowledge: {telling.public_url}/v1/recalls/{recall.code}"
        ),
        lot_code=recall.lot_code,
    )


def letter_of(notice: Notice, *, to: str, host: str) -> Letter:
    """Write a notice as a letter."""
    return Letter(
        to=to,
        subject=notice.subject,
        text=(
            f"{notice.words}\n\nYou asked to be told of this ({notice.source.replace(':', ' ')}). This is notice "
            f"{notice.number}; should it come twice, it is the same one.\n"
        ),
        message_id=f"<notice-{notice.number}@{host}>",
        notice_number=notice.number,
    )


def take_up(notice: Notice, *, now: datetime) -> Notice:
    """Take up a letter to send: for a while nobody else does."""
    return replace(notice, mail_tries=notice.mail_tries + 1, mail_after=now + LEASE)


def letter_went(notice: Notice, *, now: datetime) -> Notice:
    """Note that a letter went."""
    return replace(notice, mail_state="sent", mail_sent_at=now, mail_after=None, mail_problem=None)


def letter_failed(notice: Notice, *, problem: str, for_good: bool, now: datetime) -> Notice:
    """Note that a letter did not go: try again later, ever less often, or give it up."""
    if for_good or notice.mail_tries >= TRIES_MAX:
        return replace(notice, mail_state="given_up", mail_after=None, mail_problem=problem)
    wait = min(FIRST_WAIT * 2 ** max(0, notice.mail_tries - 1), LONGEST_WAIT)
    return replace(notice, mail_after=now + wait, mail_problem=problem)
