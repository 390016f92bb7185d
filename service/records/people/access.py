"""Tokens and kept answers: get, find, add, change."""

import hashlib
from collections.abc import Sequence
from datetime import date, datetime, timedelta

import sqlalchemy as sa

from service.errors import NotFound
from service.market.people.access import Caller, TokenLine
from service.records.session import Session
from service.records.tables import IdempotencyRow, PartyRow, TokenRow

KEPT_FOR = timedelta(hours=24)
Kept = tuple[str, int, dict[str, str]]


def find_caller(session: Session, *, sha256: str) -> tuple[Caller, date | None] | None:
    """Who holds the token with that digest, unless it was revoked, and the day on which it was last used."""
    row = session.execute(
        sa.select(TokenRow.id, TokenRow.role, PartyRow.code, TokenRow.last_used_on)
        .outerjoin(PartyRow, PartyRow.id == TokenRow.party_id)
        .where(TokenRow.sha256 == sha256, TokenRow.revoked_at.is_(None))
    ).one_or_none()
    return (Caller(row.role, row.code, row.id), row.last_used_on) if row else None


def note_use(session: Session, token_id: int, *, on: date) -> None:
    """Note the day on which a token is used; a later day that is noted already stays."""
    is_older = sa.or_(TokenRow.last_used_on.is_(None), TokenRow.last_used_on < on)
    session.execute(sa.update(TokenRow).where(TokenRow.id == token_id, is_older).values(last_used_on=on))


def search(session: Session, *, after: int | None, limit: int) -> Sequence[TokenLine]:
    """Tokens by their number, the newest first."""
    query = (
        sa.select(TokenRow, PartyRow.code)
        .outerjoin(PartyRow, PartyRow.id == TokenRow.party_id)
        .order_by(TokenRow.id.desc())
        .limit(limit)
    )
    if after is not None:
        query = query.where(TokenRow.id < after)
    return [
        TokenLine(
            id=row.id,
            role=row.role,
            party_code=code,
            label=row.label,
            made_at=row.made_at,
            last_used_on=row.last_used_on,
            revoked_at=row.revoked_at,
        )
        for row, code in session.execute(query)
    ]


def add_token(
    session: Session,
    *,
    sha256: str,
    role: str,
    party_code: str | None,
    label: str | None,
    now: datetime,
) -> int:
    """Keep a token's digest; its number names it."""
    party_id = None
    if party_code is not None:
        party_id = session.scalar(
            sa.select(PartyRow.id).where(PartyRow.kind == role, PartyRow.code == party_code)
        )
        if party_id is None:
            raise NotFound(f"there is no {role} {party_code}")
    row = TokenRow(sha256=sha256, role=role, party_id=party_id, label=label, made_at=now)
    session.add(row)
    session.flush()
    return row.id


def revoke_token(session: Session, token_id: int, *, now: datetime) -> None:
    """Make a token unknown from now on."""
    row = session.get(TokenRow, token_id)
    if row is None or row.revoked_at is not None:
        raise NotFound(f"there is no token {token_id}")
    row.revoked_at = now


def claim_key(session: Session, *, token_id: int, path: str, key: str) -> bool:
    """Claim a key for this transaction; False when a twin holds it now.

    On SQLite the one writing transaction is the claim; on PostgreSQL an advisory lock is, which the
    server drops with the connection, so that a killed process blocks nobody.
    """
    if session.get_bind().dialect.name == "sqlite":
        return True
    digest = hashlib.sha256(f"{token_id}\0{path}\0{key}".encode()).digest()
    number = int.from_bytes(digest[:8], "big", signed=True)
    return bool(session.scalar(sa.select(sa.func.pg_try_advisory_xact_lock(number))))


def find_answer(
    session: Session, *, token_id: int, path: str, key: str, now: datetime
) -> tuple[str, Kept] | None:
    """The digest of the first body, and the answer it got, within a day."""
    row = session.scalar(
        sa.select(IdempotencyRow).where(
            IdempotencyRow.token_id == token_id, IdempotencyRow.path == path, IdempotencyRow.key == key
        )
    )
    if row is None or row.made_at <= now - KEPT_FOR:
        return None
    return row.body_sha256, (row.answer, row.status, dict(row.headers))


def add_answer(
    session: Session, *, token_id: int, path: str, key: str, body_sha256: str, now: datetime, kept: Kept
) -> None:
    """Keep an answer, and clear those that are past their day."""
    session.execute(sa.delete(IdempotencyRow).where(IdempotencyRow.made_at <= now - KEPT_FOR))
    session.add(
        IdempotencyRow(
            token_id=token_id,
            path=path,
            key=key,
            body_sha256=body_sha256,
            answer=kept[0],
            status=kept[1],
            headers=kept[2],
            made_at=now,
        )
    )
