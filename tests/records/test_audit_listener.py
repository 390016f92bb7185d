"""The trail is kept by the records themselves, on both databases, and nobody alters it."""

from datetime import UTC, datetime

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from service.market.goods.audit_trail import Reading, Signature
from service.records.goods import audit_trail, lots
from service.records.people import parties
from service.records.session import Records
from service.records.tables import ChangeRow
from tests.factories import NOW, LotRowFactory, PartyFactory, PartyRowFactory, rows_into

EVERYTHING = Reading(everything=True)
SIGNED = Signature(by="grower:ALDER", at=datetime(2026, 9, 8, 7, 30, tzinfo=UTC))


def kept(records: Records, **named: object) -> list[tuple[str, str, str | None]]:
    found = records.read(lambda session: audit_trail.search(session, EVERYTHING, limit=100, **named))
    return [(change.act, change.kind, change.code) for change in found]


def test_a_new_record_leaves_a_line_with_its_signature(records: Records) -> None:
    records.write(lambda session: parties.add(session, PartyFactory(code="ALDER")), signed=SIGNED)

    (change,) = records.read(lambda session: audit_trail.search(session, EVERYTHING, limit=9))

    assert (change.by, change.at, change.act, change.kind) == (SIGNED.by, SIGNED.at, "made", "party")
    assert (change.code, change.grower_code) == ("ALDER", "ALDER")
    assert change.fields["code"] == [None, "ALDER"]
    assert not {"id", "unit_x", "things_made"} & set(change.fields)


def test_a_change_names_only_what_changed(records: Records) -> None:
    def work(session: object) -> None:
        rows_into(session)
        LotRowFactory(grower_id=PartyRowFactory().id, code="ALDER-2026-01", note="first words")
        rows_into(None)

    records.write(work)

    def revise(session: object) -> None:
        lots.get_row(session, "ALDER-2026-01").note = "other words"

    records.write(revise, signed=SIGNED)
    change, *_ = records.read(lambda session: audit_trail.search(session, EVERYTHING, kind="lot", limit=9))

    assert change.fields == {"note": ["first words", "other words"]}
    assert (change.lot_code, change.by) == ("ALDER-2026-01", "grower:ALDER")


def test_what_was_written_unchanged_leaves_no_line(records: Records) -> None:
    def work(session: object) -> None:
        rows_into(session)
        LotRowFactory(grower_id=PartyRowFactory().id, code="ALDER-2026-01")
        rows_into(None)

    records.write(work)
    before = kept(records)

    def touch(session: object) -> None:
        lot = lots.get(session, "ALDER-2026-01", now=NOW)
        lots.change(session, lot)

    records.write(touch, signed=SIGNED)

    assert kept(records) == before


def test_work_that_is_rolled_back_leaves_no_line(records: Records) -> None:
    def work(session: object) -> None:
        parties.add(session, PartyFactory(code="ALDER"))
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        records.write(work, signed=SIGNED)

    assert kept(records) == []


def test_work_without_a_signature_is_the_houses(records: Records) -> None:
    records.write(lambda session: parties.add(session, PartyFactory()))

    (change,) = records.read(lambda session: audit_trail.search(session, EVERYTHING, limit=9))

    assert change.by == "house"
    assert change.at.tzinfo is not None


@pytest.mark.parametrize("statement", ["UPDATE change SET by = 'nobody'", "DELETE FROM change"])
def test_the_database_itself_refuses_to_alter_the_trail(records: Records, statement: str) -> None:
    records.write(lambda session: parties.add(session, PartyFactory()), signed=SIGNED)

    with pytest.raises(DBAPIError, match="never"):
        records.write(lambda session: session.execute(sa.text(statement)))


def test_a_removed_record_leaves_its_last_words(records: Records) -> None:
    def work(session: object) -> None:
        rows_into(session)
        LotRowFactory(grower_id=PartyRowFactory().id, code="ALDER-2026-01", note="a slip of the pen")
        rows_into(None)

    records.write(work)
    records.write(lambda session: lots.remove(session, "ALDER-2026-01"), signed=SIGNED)

    change = records.read(
        lambda session: audit_trail.search(session, EVERYTHING, lot_code="ALDER-2026-01", kind="lot", limit=1)
    )[0]

    assert change.act == "removed"
    assert change.fields["note"] == ["a slip of the pen", None]


def test_the_trail_is_kept_of_every_table_but_its_own(session: sa.orm.Session) -> None:
    PartyRowFactory()
    session.flush()

    assert session.scalar(sa.select(sa.func.count()).select_from(ChangeRow)) == 1
