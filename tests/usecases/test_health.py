"""Whether the records answer, and what is said when they do not."""

from pathlib import Path

import pytest
from sqlalchemy.exc import DatabaseError

from service.errors import Overloaded
from service.records.people import parties
from service.records.session import Records, open_records
from service.usecases.health import look_at_records
from tests.factories import PartyFactory


def test_migrated_records_answer_empty_or_not(records: Records) -> None:
    records.read(look_at_records)
    records.write(lambda session: parties.add(session, PartyFactory(code="ALDER")))
    records.read(look_at_records)


def test_records_without_their_tables_do_not_pass_for_well(tmp_path: Path) -> None:
    bare = open_records(f"sqlite:///{tmp_path / 'bare.sqlite3'}")

    with pytest.raises(DatabaseError, match="no such table"):
        bare.read(look_at_records)
    bare.close()


def test_records_that_cannot_be_opened_are_silent(tmp_path: Path) -> None:
    gone = open_records(f"sqlite:///{tmp_path / 'no' / 'folder' / 'gone.sqlite3'}")

    with pytest.raises(Overloaded, match="do not answer"):
        gone.read(look_at_records)
    gone.close()
