"""Tokens, and requests that may be sent again."""

import hashlib
import secrets
from collections.abc import Callable, Sequence
from datetime import date, datetime

from service.errors import KeyBusy, KeyReused
from service.facts import Fact
from service.market.people.access import Caller, TokenLine, require_specialist
from service.records.people import access
from service.records.session import Session


def who_holds(session: Session, *, sha256: str, today: date) -> tuple[Caller, bool] | None:
    """Who holds the token with that digest, and whether this is its first use today."""
    found = access.find_caller(session, sha256=sha256)
    if found is None:
        return None
    caller, last_used_on = found
    return caller, last_used_on is None or last_used_on < today


def note_use(session: Session, token_id: int, *, on: date) -> None:
    """Note that a token was used on a day."""
    access.note_use(session, token_id, on=on)


def list_tokens(session: Session, *, caller: Caller, after: int | None, limit: int) -> Sequence[TokenLine]:
    """All tokens, the newest first, for the specialist.

    Raises:
        TokenNeeded, NotAllowed: the caller is not the specialist.

    """
    require_specialist(caller)
    return access.search(session, after=after, limit=limit)


def make_token(
    session: Session, *, role: str, party_code: str | None, label: str | None = None, now: datetime
) -> tuple[int, str]:
    """Make a token of 256 random bits; only its digest is kept, so it is shown this once.

    Raises:
        NotFound: there is no such party.

    """
    token = "oast_" + secrets.token_urlsafe(32)
    digest = hashlib.sha256(token.encode()).hexdigest()
    number = access.add_token(session, sha256=digest, role=role, party_code=party_code, label=label, now=now)
    return number, token


def revoke_token(session: Session, *, token_id: int, now: datetime) -> None:
    """Make a token unknown from now on.

    Raises:
        NotFound: there is no such token, or it was revoked before.

    """
    access.revoke_token(session, token_id, now=now)


class Sent(Fact, frozen=True, kw_only=True):
    """A request with an Idempotency-Key, and the moment at which it came."""

    token_id: int
    path: str
    key: str
    body_sha256: str
    now: datetime


def find_repeat(session: Session, sent: Sent) -> access.Kept | None:
    """The answer that the same request got before, if it got one.

    Raises:
        KeyReused: the key was used with another body.

    """
    first = access.find_answer(session, token_id=sent.token_id, path=sent.path, key=sent.key, now=sent.now)
    if first is None:
        return None
    if first[0] != sent.body_sha256:
        raise KeyReused("this Idempotency-Key was used with another body")
    return first[1]


def repeat_or_do(session: Session, sent: Sent, *, do: Callable[[], access.Kept]) -> access.Kept:
    """Give the first answer again, or do the work and keep its answer in the same transaction.

    Raises:
        KeyBusy: the twin is still running.
        KeyReused: the key was used with another body.

    """
    if not access.claim_key(session, token_id=sent.token_id, path=sent.path, key=sent.key):
        raise KeyBusy("a request with this Idempotency-Key is still running")
    kept = find_repeat(session, sent)
    if kept is None:
        kept = do()
        access.add_answer(
            session,
            token_id=sent.token_id,
            path=sent.path,
            key=sent.key,
            body_sha256=sent.body_sha256,
            now=sent.now,
            kept=kept,
        )
    return kept
