"""Bringing a database to the newest migration, from a checkout or from an installed wheel.

Foreign keys are off while SQLite migrates: it rebuilds a table by dropping the old one, and a drop would
delete the rows that refer to it. All keys are checked before the migration commits.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.exc import OperationalError

import service
from service.errors import Overloaded
from service.records.session import make_engine

PACKAGE = Path(service.__file__).parent


def folder() -> Path:
    """Where the migrations lie: inside the wheel, or beside the package in a checkout."""
    shipped = PACKAGE / "_migrations"
    return shipped if shipped.is_dir() else PACKAGE.parent / "migrations"


def configuration() -> Config:
    """Alembic's configuration for these migrations."""
    config = Config()
    config.set_main_option("script_location", str(folder()).replace("%", "%%"))
    return config


def refuse_if_silent(engine: sa.Engine) -> None:
    """Say plainly that a database cannot be reached.

    Raises:
        Overloaded: it does not answer.

    """
    try:
        engine.connect().close()
    except OperationalError:
        raise Overloaded("the database that OASTBOOK_DATABASE_URL names does not answer") from None


def migrate(url: str) -> str:
    """Run every migration that is missing; gives the revision reached."""
    engine = make_engine(url)
    try:
        refuse_if_silent(engine)
        config = configuration()
        with engine.connect() as connection, resting_foreign_keys(connection), connection.begin():
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
            refuse_loose_rows(connection)
            return str(MigrationContext.configure(connection).get_current_revision())
    finally:
        engine.dispose()


@contextmanager
def resting_foreign_keys(connection: sa.Connection) -> Iterator[None]:
    """Let SQLite rebuild a table without taking what belongs to it along.

    A change that SQLite knows no statement for copies the table and drops the old one, and a drop would
    delete every row that hangs on it. PostgreSQL alters in place and needs none of this.
    """
    if connection.dialect.name != "sqlite":
        yield
        return
    # The pragma is deaf inside a transaction; the driver's own cursor opens none.
    cursor = connection.connection.cursor()
    cursor.execute("PRAGMA foreign_keys=OFF")
    try:
        yield
    finally:
        cursor.execute("PRAGMA foreign_keys=ON")


def refuse_loose_rows(connection: sa.Connection) -> None:
    """Refuse to end a migration on SQLite that leaves rows pointing at nothing.

    Raises:
        RuntimeError: with the first of them; the transaction takes everything back.

    """
    if connection.dialect.name == "sqlite":
        loose = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchmany(5)
        if loose:
            raise RuntimeError(f"the migration left rows that point at nothing: {loose}")


def is_current(url: str) -> bool:
    """Whether a database stands at the newest migration."""
    engine = make_engine(url)
    try:
        refuse_if_silent(engine)
        with engine.connect() as connection:
            reached = MigrationContext.configure(connection).get_current_revision()
    finally:
        engine.dispose()
    return reached == ScriptDirectory.from_config(configuration()).get_current_head()
