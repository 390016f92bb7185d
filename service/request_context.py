"""One request: its caller, one reading of the clock, one transaction for each piece of work."""

import hashlib
from collections.abc import Callable
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path
from typing import TypeVar, cast

from flask import current_app, g, request

from service.clock import Clock, system_clock
from service.errors import InvalidRequest, Overloaded, TokenNeeded
from service.facts import Fact
from service.market.goods.audit_trail import Signature
from service.market.people.access import ANYONE, Caller
from service.records.session import Records, Session
from service.usecases.people.access import Sent, find_repeat, note_use, repeat_or_do, who_holds

T = TypeVar("T")
KEY_LENGTH_MAX = 200


class Runtime(Fact, frozen=True):
    """What a request needs of the app."""

    records: Records
    public_url: str
    clock: Clock = system_clock
    files_dir: Path | None = None
    file_limit_bytes: int = 8_000_000


class Answer(Fact, frozen=True):
    """An answer as it is sent, and kept for a repeated request."""

    text: str
    status: int
    headers: dict[str, str]


def runtime() -> Runtime:
    """The runtime of the current app."""
    return cast(Runtime, current_app.extensions["oastbook"])


def now() -> datetime:
    """The moment of this request: every step of it sees the same one."""
    if "now" not in g:
        g.now = runtime().clock()
    return cast(datetime, g.now)


def today() -> date:
    """The UTC date of this request."""
    return now().date()


def caller() -> Caller:
    """The caller of this request.

    Raises:
        TokenNeeded: the token is not known.

    """
    if "caller" not in g:
        g.caller = _caller()
    return cast(Caller, g.caller)


def _caller() -> Caller:
    header = request.headers.get("Authorization")
    if header is None:
        return ANYONE
    scheme, _, token = header.partition(" ")
    digest = hashlib.sha256(token.strip().encode("utf-8", "surrogateescape")).hexdigest()
    records, day = runtime().records, today()
    known = None
    if scheme.lower() == "bearer":
        known = records.read(lambda session: who_holds(session, sha256=digest, today=day))
    if known is None:
        raise TokenNeeded("that token is not known; it may have been revoked")
    caller, is_first_use = known
    token_id = caller.token_id
    if is_first_use and token_id is not None:
        # One write a day for a token. Where the records are busy, the next request notes it.
        with suppress(Overloaded):
            records.write(lambda session: note_use(session, token_id, on=day))
    return caller


def read(work: Callable[[Session], T]) -> T:
    """Run a use case that writes nothing."""
    caller()
    return runtime().records.read(work)


def write(work: Callable[[Session], T]) -> T:
    """Run a use case in one transaction: return commits, raise rolls back."""
    # Looked up inside the transaction, each request would hold two connections, and ten could block each other.
    who = caller()
    return runtime().records.write(work, signed=Signature(by=who.name, at=now()))


def create(work: Callable[[Session], Answer]) -> Answer:
    """Run a use case that makes something; with an Idempotency-Key it runs once and its answer is repeated.

    Raises:
        KeyReused: the key was used with another body.
        KeyBusy: the first request with this key is still running.
        InvalidRequest: the key is empty or too long.

    """
    sent = _sent_with_key()
    if sent is None:
        return write(work)

    def once(session: Session) -> Answer:
        return _as_answer(repeat_or_do(session, sent, do=lambda: _as_kept(work(session))))

    return write(once)


def repeated() -> Answer | None:
    """The answer that this Idempotency-Key got before, for work that takes long before its transaction.

    Raises:
        KeyReused: the key was used with another body.
        InvalidRequest: the key is empty or too long.

    """
    sent = _sent_with_key()
    kept = None if sent is None else read(lambda session: find_repeat(session, sent))
    return None if kept is None else _as_answer(kept)


def _sent_with_key() -> Sent | None:
    key = request.headers.get("Idempotency-Key")
    who = caller()
    if key is None or who.token_id is None:
        return None
    if not 0 < len(key) <= KEY_LENGTH_MAX or not key.isprintable():
        raise InvalidRequest(
            f"an Idempotency-Key has 1 to {KEY_LENGTH_MAX} printable characters",
            errors=[{"parameter": "Idempotency-Key", "detail": "Give 1 to 200 printable characters."}],
        )
    body = hashlib.sha256(request.get_data(cache=True)).hexdigest()
    return Sent(token_id=who.token_id, path=request.path, key=key, body_sha256=body, now=now())


def _as_answer(kept: tuple[str, int, dict[str, str]]) -> Answer:
    return Answer(text=kept[0], status=kept[1], headers=kept[2])


def _as_kept(answer: Answer) -> tuple[str, int, dict[str, str]]:
    return answer.text, answer.status, answer.headers
