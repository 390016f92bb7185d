"""Opening the record room: one engine, and one transaction for each piece of work."""

import logging
import time
from collections.abc import Callable
from typing import TypeVar

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.exc import DBAPIError, OperationalError
from sqlalchemy.orm import Session, sessionmaker

from service.errors import Overloaded
from service.market.goods.audit_trail import Signature
from service.records.audit_listener import SIGNED, keep_changes

__all__ = ["Records", "Session", "open_records"]

T = TypeVar("T")
log = logging.getLogger(__name__)
TRIES = 4
# Serialisation failure, deadlock, lock not available: the database asks for another try.
TRY_AGAIN = ("40001", "40P01", "55P03")


class Records:
    """The record room of one process.

    `read` and `write` call a piece of work with a session: return commits, raise rolls back.
    """

    def __init__(self, engine: sa.Engine, *, connection: sa.Connection | None = None) -> None:
        self.engine = engine
        self._writes: sessionmaker[Session]
        if connection is None:
            writing = engine.execution_options(sqlite_begin="IMMEDIATE")
            self._reads = sessionmaker(engine, expire_on_commit=False)
            self._writes = sessionmaker(writing, expire_on_commit=False)
        else:
            self._reads = self._writes = sessionmaker(
                connection, expire_on_commit=False, join_transaction_mode="create_savepoint"
            )
        event.listen(self._writes, "after_flush", keep_changes)

    def read(self, work: Callable[[Session], T]) -> T:
        """Do work that writes nothing; readers never queue behind writers.

        Raises:
            Overloaded: the database does not answer.

        """
        try:
            with self._reads() as session:
                return work(session)
        except DBAPIError as problem:
            _refuse_if_silent(problem)
            raise

    def write(self, work: Callable[[Session], T], *, signed: Signature | None = None) -> T:
        """Do work in one transaction, again where the database asks for it; its changes leave lines, signed.

        Without a signature the audit trail names the service itself.

        Raises:
            Overloaded: the tries were used up, or the database does not answer; nothing was changed.

        """
        for attempt in range(1, TRIES + 1):
            try:
                with self._writes.begin() as session:
                    session.info[SIGNED] = signed
                    return work(session)
            except DBAPIError as problem:
                if not _wants_another_try(problem):
                    _refuse_if_silent(problem)
                    raise
                time.sleep(0.01 * 2**attempt)
        raise Overloaded(f"the records stayed busy through {TRIES} tries; nothing was changed")

    def close(self) -> None:
        """Give every connection back."""
        self.engine.dispose()


def _wants_another_try(problem: DBAPIError) -> bool:
    state = getattr(problem.orig, "sqlstate", None)
    return state in TRY_AGAIN or "database is locked" in str(problem.orig)


def _refuse_if_silent(problem: DBAPIError) -> None:
    """Raise Overloaded where the database cannot be reached; any other fault is ours.

    A statement that failed carries its SQLSTATE; a connection that failed carries none, or one of class 08 or 57P.
    """
    if not isinstance(problem, OperationalError):
        return
    state = getattr(problem.orig, "sqlstate", "of SQLite")
    unopened = "unable to open database file" in str(problem.orig)
    if problem.connection_invalidated or unopened or state is None or state.startswith(("08", "57P")):
        log.error("the database does not answer", exc_info=problem)
        raise Overloaded("the records do not answer; nothing was changed") from None


def open_records(url: str) -> Records:
    """Open the records at an address."""
    return Records(make_engine(url))


def make_engine(url: str) -> sa.Engine:
    """Make an engine that behaves alike on both databases."""
    address = sa.make_url(url)
    if address.get_backend_name() != "sqlite":
        return sa.create_engine(address, pool_pre_ping=True, pool_size=5, max_overflow=5)
    engine = sa.create_engine(address, connect_args={"timeout": 10, "check_same_thread": False})
    event.listen(engine, "connect", _prepare_sqlite)
    event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: object, _record: object) -> None:
    # The driver would hide its own BEGIN before the first write; we say BEGIN ourselves.
    connection.isolation_level = None  # type: ignore[attr-defined]
    cursor = connection.cursor()  # type: ignore[attr-defined]
    for pragma in (
        "foreign_keys=ON",
        "busy_timeout=10000",
        "journal_mode=WAL",
        "synchronous=NORMAL",
        "temp_store=MEMORY",
        "trusted_schema=OFF",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: sa.Connection) -> None:
    # A reader that turns writer cannot upgrade its snapshot, so a writer says so at once.
    mode = connection.get_execution_options().get("sqlite_begin", "DEFERRED")
    connection.exec_driver_sql(f"BEGIN {mode}")
