"""Tokens, and the one answer that a repeated request gets."""

import hashlib
from datetime import timedelta

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from service.errors import KeyBusy, KeyReused, NotFound
from service.facts import replace
from service.market.people.access import Caller
from service.records.people import access, parties
from service.records.session import Records
from service.records.tables import TokenRow
from service.usecases.people.access import Sent, make_token, repeat_or_do, revoke_token, who_holds
from tests.factories import NOW, TODAY, PartyFactory


@pytest.fixture
def alder(session: Session) -> Session:
    parties.add(session, PartyFactory(code="ALDER"))
    return session


def digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def test_a_token_names_its_holder_and_only_its_digest_is_kept(alder: Session) -> None:
    number, token = make_token(alder, role="grower", party_code="ALDER", label="the barn", now=NOW)

    assert who_holds(alder, sha256=digest(token), today=TODAY) == (Caller("grower", "ALDER", number), True)
    kept = alder.execute(sa.select(TokenRow.sha256, TokenRow.label, TokenRow.made_at)).all()
    assert kept == [(digest(token), "the barn", NOW)]


def test_every_token_is_another_one_of_256_bits(alder: Session) -> None:
    tokens = {make_token(alder, role="specialist", party_code=None, now=NOW)[1] for _ in range(20)}

    assert len(tokens) == 20
    # 256 bits are 43 signs of base64.
    assert {len(token) for token in tokens} == {len("oast_") + 43}


def test_nobody_holds_what_was_never_made(alder: Session) -> None:
    assert who_holds(alder, sha256=digest("oast_guess"), today=TODAY) is None
    for role, code in (("grower", "NOBODY"), ("brewery", "ALDER")):
        with pytest.raises(NotFound):
            make_token(alder, role=role, party_code=code, now=NOW)


def test_a_revoked_token_is_unknown_and_stays_so(alder: Session) -> None:
    number, token = make_token(alder, role="grower", party_code="ALDER", now=NOW)
    _, other = make_token(alder, role="grower", party_code="ALDER", now=NOW)

    revoke_token(alder, token_id=number, now=NOW)

    assert who_holds(alder, sha256=digest(token), today=TODAY) is None
    assert who_holds(alder, sha256=digest(other), today=TODAY) is not None
    for token_id in (number, 10**6):
        with pytest.raises(NotFound):
            revoke_token(alder, token_id=token_id, now=NOW)


class Work:
    """Work that counts how often it was done."""

    def __init__(self) -> None:
        self.done = 0

    def __call__(self) -> access.Kept:
        self.done += 1
        return f'{{"number": {self.done}}}', 201, {"Location": f"/v1/things/{self.done}"}


def ask(session: Session, token_id: int, work: Work, **told: object) -> access.Kept:
    sent = Sent(token_id=token_id, path="/v1/things", key="once", body_sha256="a" * 64, now=NOW)
    return repeat_or_do(session, replace(sent, **told), do=work)


@pytest.fixture
def token_id(alder: Session) -> int:
    return make_token(alder, role="grower", party_code="ALDER", now=NOW)[0]


def test_the_same_request_is_done_once_and_answered_alike(session: Session, token_id: int) -> None:
    work = Work()

    first, again = ask(session, token_id, work), ask(session, token_id, work)

    assert (work.done, first) == (1, ('{"number": 1}', 201, {"Location": "/v1/things/1"}))
    assert again == first


def test_a_key_with_another_body_is_refused_and_does_nothing(session: Session, token_id: int) -> None:
    work = Work()
    ask(session, token_id, work)

    with pytest.raises(KeyReused):
        ask(session, token_id, work, body_sha256="b" * 64)

    assert work.done == 1


def test_another_path_key_or_token_is_another_request(session: Session, token_id: int) -> None:
    work, other = Work(), make_token(session, role="specialist", party_code=None, now=NOW)[0]

    ask(session, token_id, work)
    ask(session, token_id, work, path="/v1/others")
    ask(session, token_id, work, key="twice")
    ask(session, other, work)

    assert work.done == 4


@pytest.mark.parametrize(("hours", "done"), [(23.99, 1), (24, 2)])
def test_an_answer_is_kept_for_a_day(session: Session, token_id: int, hours: float, done: int) -> None:
    work = Work()
    ask(session, token_id, work)

    ask(session, token_id, work, now=NOW + timedelta(hours=hours))

    assert work.done == done


def test_work_that_raises_keeps_no_answer(session: Session, token_id: int) -> None:
    def refused() -> access.Kept:
        raise NotFound("there is no lot")

    with pytest.raises(NotFound):
        ask(session, token_id, refused)  # type: ignore[arg-type]  # a plain function does as well

    work = Work()
    ask(session, token_id, work)
    assert work.done == 1


# SQLite lets one writer in at a time, so that no twin runs beside it.
@pytest.mark.parametrize("committed", ["postgresql"], indirect=True)
def test_a_key_is_busy_while_its_twin_runs(committed: Records) -> None:
    token_id = committed.write(lambda s: make_token(s, role="specialist", party_code=None, now=NOW))[0]
    outer, inner = Work(), Work()

    def twin_inside(session: Session) -> access.Kept:
        assert access.claim_key(session, token_id=token_id, path="/v1/things", key="once")
        with pytest.raises(KeyBusy):
            committed.write(lambda other: ask(other, token_id, inner))
        return ask(session, token_id, outer)

    committed.write(twin_inside)

    assert (outer.done, inner.done) == (1, 0)
    assert committed.write(lambda s: ask(s, token_id, inner)) == (
        '{"number": 1}',
        201,
        {"Location": "/v1/things/1"},
    )
    assert inner.done == 0
