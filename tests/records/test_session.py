"""One transaction for each piece of work: return commits, raise rolls back, a busy database is tried again."""

import threading
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, OperationalError

from service.errors import Overloaded
from service.records import parties
from service.records.session import TRIES, Records, make_engine, open_records
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
