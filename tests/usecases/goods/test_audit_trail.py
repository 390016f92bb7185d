"""Reading the trail as somebody."""

import pytest

from service.errors import NotFound, TokenNeeded
from service.market.people.access import ANYONE, Caller
from service.records.session import Records
from service.usecases.goods.audit_trail import list_changes
from tests.factories import NOW, LotRowFactory, PartyRowFactory, rows_into

ALL = {"kind": None, "code": None, "after": None, "limit": 20, "now": NOW}


@pytest.fixture
def drafted(records: Records) -> Records:
    def work(session: object) -> None:
        rows_into(session)
        grower = PartyRowFactory(code="ALDER")
        LotRowFactory(code="ALDER-2026-01", grower_id=grower.id, state="draft")
        rows_into(None)

    records.write(work)
    return records


def test_nobody_reads_without_a_token(drafted: Records) -> None:
    with pytest.raises(TokenNeeded):
        drafted.read(lambda session: list_changes(session, caller=ANYONE, lot_code=None, **ALL))


def test_a_lot_that_must_not_be_known_of_has_no_trail(drafted: Records) -> None:
    stranger = Caller("brewery", "FINCH")

    with pytest.raises(NotFound):
        drafted.read(lambda session: list_changes(session, caller=stranger, lot_code="ALDER-2026-01", **ALL))


def test_the_grower_reads_what_was_done_to_the_lot(drafted: Records) -> None:
    grower = Caller("grower", "ALDER")

    found = drafted.read(
        lambda session: list_changes(session, caller=grower, lot_code="ALDER-2026-01", **ALL)
    )

    assert "lot" in {change.kind for change in found}
    assert {change.grower_code for change in found} == {"ALDER"}
