"""Tokens and kept answers in the records."""

from datetime import timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.market.people.access import Caller
from service.records.people import access, parties
from service.records.session import Records
from service.records.tables import IdempotencyRow, TokenRow
from tests.factories import NOW, TODAY, PartyFactory

ANSWER = ('{"code": "ALDER-2026-01"}', 201, {"Location": "/v1/lots/ALDER-2026-01", "ETag": '"abc"'})


@pytest.fixture(autouse=True)
def people(session: Session) -> None:
    for kind, code in (("grower", "ALDER"), ("brewery", "FINCH")):
        parties.add(session, PartyFactory(kind=kind, code=code))


def token(
    session: Session, sha256: str = "aa", role: str = "grower", party_code: str | None = "ALDER"
) -> int:
    return access.add_token(
        session, sha256=sha256, role=role, party_code=party_code, label="barn desk", now=NOW
    )


@pytest.mark.parametrize(
    ("role", "party_code"), [("grower", "ALDER"), ("brewery", "FINCH"), ("specialist", None)]
)
def test_a_token_tells_who_holds_it(session: Session, role: str, party_code: str | None) -> None:
    number = token(session, "aa", role, party_code)

    assert access.find_caller(session, sha256="aa") == (Caller(role, party_code, number), None)
    assert access.find_caller(session, sha256="ab") is None


def test_a_revoked_token_is_unknown_and_others_stay(session: Session) -> None:
    number, other = token(session, "aa"), token(session, "bb", "brewery", "FINCH")

    access.revoke_token(session, number, now=NOW)
    session.flush()

    assert access.find_caller(session, sha256="aa") is None
    assert access.find_caller(session, sha256="bb") == (Caller("brewery", "FINCH", other), None)


def test_a_token_is_revoked_once_and_keeps_its_moment(session: Session) -> None:
    number = token(session)
    access.revoke_token(session, number, now=NOW)
    session.flush()

    for gone in (number, number + 1000):
        with pytest.raises(NotFound, match=f"there is no token {gone}"):
            access.revoke_token(session, gone, now=NOW + timedelta(days=1))
    assert session.scalar(sa.select(TokenRow.revoked_at)) == NOW


@pytest.mark.parametrize(
    ("role", "party_code"), [("grower", "NOBODY"), ("grower", "FINCH"), ("brewery", "ALDER")]
)
def test_a_token_is_for_a_party_of_its_role(session: Session, role: str, party_code: str) -> None:
    with pytest.raises(NotFound, match=f"there is no {role} {party_code}"):
        token(session, "aa", role, party_code)
    assert session.scalar(sa.select(sa.func.count(TokenRow.id))) == 0


@pytest.mark.parametrize(
    ("role", "party_code"), [("grower", None), ("caller", None)], ids=["grower of nobody", "unknown role"]
)
def test_the_database_refuses_a_token_without_its_party(
    session: Session, role: str, party_code: str | None
) -> None:
    with pytest.raises(IntegrityError), session.begin_nested():
        token(session, "aa", role, party_code)


def test_the_database_refuses_a_digest_twice(session: Session) -> None:
    token(session, "aa")

    with pytest.raises(IntegrityError), session.begin_nested():
        token(session, "aa", "brewery", "FINCH")


def keep(session: Session, token_id: int, path: str = "/v1/lots", key: str = "once", days: float = 0) -> None:
    access.add_answer(
        session,
        token_id=token_id,
        path=path,
        key=key,
        body_sha256="b0",
        now=NOW + timedelta(days=days),
        kept=ANSWER,
    )
    session.flush()


def test_an_answer_comes_back_as_it_was_kept(session: Session) -> None:
    mine, theirs = token(session, "aa"), token(session, "bb", "brewery", "FINCH")
    keep(session, mine)
    session.expire_all()

    def kept(token_id: int, path: str, key: str) -> tuple[str, access.Kept] | None:
        return access.find_answer(session, token_id=token_id, path=path, key=key, now=NOW)

    assert kept(mine, "/v1/lots", "once") == ("b0", ANSWER)
    assert kept(theirs, "/v1/lots", "once") is None
    assert kept(mine, "/v1/requests", "once") is None
    assert kept(mine, "/v1/lots", "Once") is None


@pytest.mark.parametrize(("seconds", "is_kept"), [(-1, True), (0, False), (1, False)])
def test_an_answer_is_kept_for_one_day(session: Session, seconds: int, is_kept: bool) -> None:
    number = token(session)
    keep(session, number)
    moment = NOW + timedelta(days=1, seconds=seconds)

    found = access.find_answer(session, token_id=number, path="/v1/lots", key="once", now=moment)

    assert found == (("b0", ANSWER) if is_kept else None)


def test_a_new_answer_clears_those_past_their_day(session: Session) -> None:
    number = token(session)
    for key, days in (("first", 0.0), ("second", 0.6), ("third", 1.0)):
        keep(session, number, key=key, days=days)

    keys = session.scalars(sa.select(IdempotencyRow.key).order_by(IdempotencyRow.id)).all()

    assert keys == ["second", "third"]


def test_the_database_keeps_one_answer_for_a_key(session: Session) -> None:
    number = token(session)
    keep(session, number)

    with pytest.raises(IntegrityError), session.begin_nested():
        keep(session, number)


def test_a_key_is_claimed_by_one_transaction_and_is_free_after_it(committed: Records) -> None:
    def claim(session: Session, token_id: int = 1, path: str = "/v1/lots", key: str = "once") -> bool:
        return access.claim_key(session, token_id=token_id, path=path, key=key)

    # An embedded database has one writer at a time, and that writer is the claim.
    if committed.engine.dialect.name == "sqlite":
        assert committed.write(claim)
        assert committed.write(claim)
        return
    with committed._writes.begin() as first, committed._writes.begin() as twin:
        assert claim(first)
        assert claim(first)
        assert not claim(twin)
        assert claim(twin, token_id=2)
        assert claim(twin, path="/v1/requests")
        assert claim(twin, key="twice")
    assert committed.write(claim)


def test_a_use_is_noted_once_a_day_and_a_later_day_stays(session: Session) -> None:
    number = access.add_token(session, sha256="aa", role="specialist", party_code=None, label=None, now=NOW)

    for on in (TODAY, TODAY + timedelta(days=2), TODAY + timedelta(days=1)):
        access.note_use(session, number, on=on)

    (line,) = access.search(session, after=None, limit=5)
    assert (line.id, line.last_used_on, line.revoked_at) == (number, TODAY + timedelta(days=2), None)
    assert access.search(session, after=number, limit=5) == []
