"""One transaction for each piece of work: return commits, raise rolls back, a busy database is tried again."""

import contextlib
import threading
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, OperationalError

from service.errors import Overloaded
from service.records.people import parties
from service.records.session import TRIES, Records, Session, make_engine, open_records
from tests.factories import PartyFactory


def names(records: Records) -> list[str]:
    """The growers in the books."""
    return [p.code for p in records.read(lambda s: parties.search(s, "grower", after=None, limit=100))]


def test_return_commits(committed: Records) -> None:
    committed.write(lambda session: parties.add(session, PartyFactory(code="ALDER")))

    assert names(committed) == ["ALDER"]


def test_raise_rolls_back(committed: Records) -> None:
    def work(session: object) -> None:
        parties.add(session, PartyFactory(code="ALDER"))  # type: ignore[arg-type]
        raise KeyError("half way")

    with pytest.raises(KeyError, match="half way"):
        committed.write(work)

    assert names(committed) == []


def test_what_is_read_is_never_written(committed: Records) -> None:
    committed.read(lambda session: parties.add(session, PartyFactory(code="ALDER")))

    assert names(committed) == []


class _Conflict(Exception):  # noqa: N818 -- as a driver's own
    """A driver's error with the state of a serialisation failure."""

    sqlstate = "40001"


def test_a_conflict_is_tried_again(committed: Records) -> None:
    tried = []

    def work(session: object) -> str:
        parties.add(session, PartyFactory(code="ALDER"))  # type: ignore[arg-type]
        tried.append(1)
        if len(tried) < TRIES:
            raise DBAPIError("UPDATE", None, _Conflict())
        return "done"

    assert committed.write(work) == "done"
    assert (len(tried), names(committed)) == (TRIES, ["ALDER"])


def told_of_conflicts(records: Records, *, brief: bool) -> list[str]:
    """What the database itself reports from now on; with `brief` nobody waits longer than a moment for a lock."""
    engine, told = records.engine, []
    embedded = engine.dialect.name == "sqlite"
    wait = "PRAGMA busy_timeout=20" if embedded else "SET lock_timeout = 20"

    def wait_briefly(raw: Any, _record: object) -> None:
        raw.execute(wait)
        raw.commit()

    def hear(context: Any) -> None:
        told.append(getattr(context.original_exception, "sqlstate", None) or str(context.original_exception))

    sa.event.listen(engine, "handle_error", hear)
    if brief:
        engine.dispose()
        sa.event.listen(engine, "connect", wait_briefly)
    return told


def test_two_that_wait_for_each_other_both_come_through(committed: Records) -> None:
    """A deadlock that PostgreSQL really ends; on SQLite a writer that finds the books really busy."""
    for code in ("ALDER", "BIRCH"):
        committed.write(lambda session, code=code: parties.add(session, PartyFactory(code=code)))
    embedded = committed.engine.dialect.name == "sqlite"
    told = told_of_conflicts(committed, brief=embedded)
    both_hold_one = threading.Barrier(2)
    numbers: dict[str, int] = {}

    def count(first: str, second: str) -> None:
        waits = [True]

        def work(session: Session) -> int:
            parties.next_number(session, "grower", first)
            if waits.pop() if waits else False:
                with contextlib.suppress(threading.BrokenBarrierError):
                    both_hold_one.wait(0.08 if embedded else 30)
            return parties.next_number(session, "grower", second)

        numbers[first] = committed.write(work)

    threads = [threading.Thread(target=count, args=pair) for pair in (("ALDER", "BIRCH"), ("BIRCH", "ALDER"))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(numbers.values()) == [1, 2]
    assert 1 <= len(told) < TRIES
    assert set(told) == {"database is locked"} if embedded else told == ["40P01"]


def test_a_snapshot_that_others_wrote_over_is_read_anew(committed: Records) -> None:
    """A serialisation failure of PostgreSQL's own; SQLite knows none, since its writers queue from the beginning."""
    committed.write(lambda session: parties.add(session, PartyFactory(code="ALDER")))
    told = told_of_conflicts(committed, brief=False)
    embedded = committed.engine.dialect.name == "sqlite"
    tried = []

    def work(session: Session) -> int:
        if not embedded:
            session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
        parties.get(session, "grower", "ALDER")
        tried.append(1)
        if len(tried) == 1 and not embedded:
            committed.write(lambda other: parties.next_number(other, "grower", "ALDER"))
        return parties.next_number(session, "grower", "ALDER")

    assert committed.write(work) == (1 if embedded else 2)
    assert (told, len(tried)) == (([], 1) if embedded else (["40001"], 2))


def test_records_that_stay_busy_are_asked_four_times_and_no_more(committed: Records) -> None:
    committed.write(lambda session: parties.add(session, PartyFactory(code="ALDER")))
    told = told_of_conflicts(committed, brief=True)
    other = make_engine(committed.engine.url.render_as_string(hide_password=False))

    with Session(other.execution_options(sqlite_begin="IMMEDIATE")) as busy:
        parties.get(busy, "grower", "ALDER", lock=True)
        with pytest.raises(Overloaded, match=f"{TRIES} tries"):
            committed.write(lambda session: parties.next_number(session, "grower", "ALDER"))
    other.dispose()

    assert len(told) == TRIES
    assert set(told) <= {"55P03", "database is locked"}
    assert committed.write(lambda session: parties.next_number(session, "grower", "ALDER")) == 1


def test_a_lasting_conflict_is_given_up(committed: Records) -> None:
    def work(_session: object) -> None:
        raise DBAPIError("UPDATE", None, _Conflict())

    with pytest.raises(Overloaded, match=f"{TRIES} tries"):
        committed.write(work)


def test_another_fault_of_the_database_is_not_tried_again(committed: Records) -> None:
    tried = []

    def work(session: object) -> None:
        tried.append(1)
        session.execute(sa.text("SELECT * FROM no_such_table"))  # type: ignore[attr-defined]

    with pytest.raises(DBAPIError, match="no_such_table"):
        committed.write(work)

    assert len(tried) == 1


@pytest.mark.parametrize(
    "address",
    [
        "sqlite:////no/such/folder/books.sqlite3",
        "postgresql+psycopg://oast@/books?host=/no/such/folder&connect_timeout=2",
    ],
    ids=["sqlite", "postgresql"],
)
@pytest.mark.parametrize("verb", ["read", "write"])
def test_a_database_that_does_not_answer_is_said_plainly(address: str, verb: str) -> None:
    records = open_records(address)

    with pytest.raises(Overloaded, match="do not answer"):
        getattr(records, verb)(lambda session: session.scalar(sa.text("SELECT 1")))

    records.close()


def test_a_missing_table_is_a_fault_of_ours_and_stays_one(tmp_path: Path) -> None:
    records = open_records(f"sqlite:///{tmp_path / 'empty.sqlite3'}")

    with pytest.raises(OperationalError, match="no such table"):
        records.read(lambda session: parties.get(session, "grower", "ALDER"))

    records.close()


def test_writers_of_an_embedded_database_queue(committed: Records) -> None:
    """Eight writers that read before they write: none is lost, none fails."""
    committed.write(lambda session: parties.add(session, PartyFactory(code="ALDER")))
    failures = []

    def count() -> None:
        try:
            for _ in range(5):
                committed.write(lambda session: parties.next_number(session, "grower", "ALDER"))
        except Exception as problem:
            failures.append(problem)

    threads = [threading.Thread(target=count) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert failures == []
    assert committed.write(lambda session: parties.next_number(session, "grower", "ALDER")) == 41


def test_a_reader_does_not_wait_for_a_writer(committed: Records) -> None:
    seen = []

    def work(session: object) -> None:
        parties.add(session, PartyFactory(code="ALDER"))  # type: ignore[arg-type]
        reader = threading.Thread(target=lambda: seen.append(names(committed)))
        reader.start()
        reader.join(5)

    committed.write(work)

    assert seen == [[]]


def test_sqlite_minds_references(tmp_path: Path) -> None:
    engine = make_engine(f"sqlite:///{tmp_path / 'own.sqlite3'}")
    with engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
    engine.dispose()
