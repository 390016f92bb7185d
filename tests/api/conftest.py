"""The API runs on SQLite here. Where databases differ, tests/records and tests/journeys run on both."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from service.records.session import Records, make_engine


@pytest.fixture(scope="session")
def engine(sqlite_address: str) -> Iterator[sa.Engine]:
    """An engine on a migrated SQLite file."""
    engine = make_engine(sqlite_address)
    yield engine
    engine.dispose()


@pytest.fixture
def committed(sqlite_address: str, tmp_path: Path) -> Iterator[Records]:
    """Records of a test's own, where every write is committed."""
    shutil.copy(sqlite_address.removeprefix("sqlite:///"), tmp_path / "own.sqlite3")
    records = Records(make_engine(f"sqlite:///{tmp_path / 'own.sqlite3'}"))
    yield records
    records.close()
