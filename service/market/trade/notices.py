"""Who is notified of what: events that wait, saved searches, notices and letters.

Listing a lot writes one line into the outbox; `oastbook deliver` matches it and sends the mail. Delivery is
at least once: a crash sends a letter again with the same Message-ID and Date. Of a promise, the side that
did not act is notified; where the specialist acted for neither side, both are. What no longer holds when
the event is read is not notified. Expiry is read from the clock and writes no event, so nobody is notified
of it.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from service.facts import Fact, replace
from service.market.goods.lots import Lot
from service.market.trade.recalls import Recall
from service.market.trade.reservations import SIDES, Reservation

# A letter that did not go is tried again after 1, 2, 4 … minutes, at most every 6 hours; after 14 tries, about two
# days, it is given up and the feed says so. House figures; assumption, no source.
FIRST_WAIT = timedelta(minutes=1)
LONGEST_WAIT = timedelta(hours=6)
TRIES_MAX = 14
# So long nobody else takes up a letter that somebody is about to send.
LEASE = timedelta(minutes=5)


# Why a letter comes, in words that hold for it.
WHY = {
    "lot_listed": "You asked to be told of this",
    "recall_opened": "The recall names hops that you hold or were promised",
}
# What is told of a reservation that came into a state.
TOLD = {
    "offered": "offer_made",
    "held": "hold_made",
    "confirmed": "reservation_confirmed",
    "released": "reservation_released",
}
KINDS = ("lot_listed", "recall_opened", *TOLD.values())


class Event(Fact, frozen=True, kw_only=True):
    """Something that happened, written in the transaction in which it did, and looked at later.

    `by_side` says who spoke of a reservation; None where the specialist did, for neither side.
    """

    number: int = 0
    kind: str
    lot_code: str
    recall_code: str | None = None
    reservation_code: str | None = None
    by_side: str | None = None
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
    kind: str
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
    """A notice as mail; `message_id` and the moment of writing stay the same however often it is sent."""

    to: str
    subject: str
    text: str
    message_id: str
    notice_number: int
    written_at: datetime


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
            kind=event.kind,
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


def reservation_event(
    promise: Reservation, *, before: Reservation | None = None, by_side: str | None, now: datetime
) -> Event | None:
    """What the other side is to be told of a promise that was made or changed; None where that is nothing."""
    kind = TOLD.get(promise.state)
    if kind is None or (before is not None and before.state == promise.state):
        return None
    return Event(
        kind=kind, lot_code=promise.lot_code, reservation_code=promise.code, by_side=by_side, made_at=now
    )


def reservation_notices(
    event: Event, promise: Reservation, telling: Telling, *, is_listed: bool = True
) -> Sequence[Notice]:
    """Tell the side that did not speak; both where neither did, and nobody of what is no longer so.

    An offer goes with its lot's listing.
    """
    state = promise.shown_state(telling.now)
    if event.kind != TOLD.get("confirmed" if state == "delivered" else state):
        return []
    if state == "offered" and not is_listed:
        return []
    waits = state in ("offered", "held")
    parties = {"grower": promise.grower_code, "brewery": promise.brewery_code}
    told = [side for side in SIDES if side != event.by_side]
    speaker = "the specialist" if event.by_side is None else parties[event.by_side]
    offers = "offers to take" if event.by_side == "brewery" else "offers"
    goods = f"{promise.mass_kg} kg of lot {promise.lot_code}"
    until = f" until {promise.held_until:%Y-%m-%d %H:%M} UTC" if waits and promise.held_until else ""
    wanted = f" for request {promise.request_code}" if promise.request_code else ""
    head, words = {
        "offer_made": (
            "Offer",
            f"{speaker} {offers} {goods}{wanted}{until}. Nothing is taken until you confirm, if that much is still free.",
        ),
        "hold_made": ("Hold", f"{speaker} holds {goods}{wanted}{until}. Confirm it, or give it up."),
        "reservation_confirmed": ("Confirmed", f"{speaker} confirmed; by both sides now: {goods}{wanted}."),
        "reservation_released": ("Released", f"{speaker} gave up {goods}{wanted}; it is promised no more."),
    }[event.kind]
    return [
        telling.notice(
            event,
            party=f"{side}:{parties[side]}",
            source=f"reservation:{promise.code}",
            subject=f"{head}, {promise.code}: {goods}",
            words=f"{words}{_spoken_for(promise, side, event)} {telling.public_url}/v1/reservations/{promise.code}",
            lot_code=promise.lot_code,
        )
        for side in told
        if not waits or side not in promise.confirmed_by or event.by_side is None
    ]


def _spoken_for(promise: Reservation, side: str, event: Event) -> str:
    """What a side must know for which the specialist spoke."""
    if event.by_side is not None or event.kind not in ("offer_made", "hold_made"):
        return ""
    spoken_for = "grower" if event.kind == "offer_made" else "brewery"
    if side != spoken_for:
        return f" That was said for the {spoken_for}."
    return " That was said for you: give it up if it is not so."


def letter_of(notice: Notice, *, to: str, host: str) -> Letter:
    """Write a notice as a letter."""
    why = WHY.get(notice.kind, "You are one of its two sides")
    return Letter(
        to=to,
        subject=notice.subject,
        text=(
            f"{notice.words}\n\n{why} ({notice.source.replace(':', ' ')}). This is notice "
            f"{notice.number}; should it come twice, it is the same one.\n"
        ),
        message_id=f"<notice-{notice.number}@{host}>",
        notice_number=notice.number,
        written_at=notice.made_at,
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
