"""Reading lots as somebody, one by one and several at once."""

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from service.errors import NotAllowed, NotFound, TokenNeeded
from service.facts import replace
from service.market.people.access import ANYONE, Caller
from service.records.goods import lots
from service.records.people import parties
from service.usecases.goods.lot_access import lot_to_change, lot_to_see, lots_to_see
from tests.factories import NOW, ListedLotFactory, PartyFactory

ALDER, ROWAN, FINCH = Caller("grower", "ALDER"), Caller("grower", "ROWAN"), Caller("brewery", "FINCH")
LISTED, HIDDEN = "ALDER-2026-01", "ALDER-2026-02"


@pytest.fixture
def two_lots(session: Session) -> Session:
    parties.add(session, PartyFactory(code="ALDER"))
    lot = ListedLotFactory(code=LISTED, mass_kg=Decimal("120.5"))
    lots.add(session, lot, cultivar_key="WILLAMETTE")
    lots.add(session, replace(lot, code=HIDDEN, state="withdrawn"), cultivar_key="WILLAMETTE")
    return session


@pytest.mark.parametrize(
    ("caller", "sees_hidden"),
    [(ANYONE, False), (ROWAN, False), (FINCH, False), (ALDER, True), (Caller("specialist"), True)],
)
def test_several_lots_are_seen_as_one_by_one(two_lots: Session, caller: Caller, sees_hidden: bool) -> None:
    def seen_alone(code: str) -> bool:
        try:
            return lot_to_see(two_lots, code, caller=caller, now=NOW).code == code
        except NotFound:
            return False

    def seen_among(codes: list[str]) -> bool:
        try:
            return sorted(lots_to_see(two_lots, codes, caller=caller, now=NOW)) == sorted(set(codes))
        except NotFound:
            return False

    assert seen_alone(LISTED)
    assert seen_among([LISTED, LISTED])
    assert seen_alone(HIDDEN) is sees_hidden
    assert seen_among([LISTED, HIDDEN]) is sees_hidden


def test_no_lots_are_no_statement_and_a_missing_one_is_named(two_lots: Session) -> None:
    assert lots_to_see(two_lots, [], caller=ANYONE, now=NOW) == {}
    with pytest.raises(NotFound, match="ALDER-2026-99"):
        lots_to_see(two_lots, [LISTED, "ALDER-2026-99"], caller=ANYONE, now=NOW)


@pytest.mark.parametrize(
    ("caller", "refusal"), [(ANYONE, TokenNeeded), (ROWAN, NotAllowed), (FINCH, NotAllowed)]
)
def test_only_its_grower_changes_a_lot(two_lots: Session, caller: Caller, refusal: type[Exception]) -> None:
    with pytest.raises(refusal):
        lot_to_change(two_lots, LISTED, caller=caller, now=NOW)
    assert lot_to_change(two_lots, LISTED, caller=ALDER, now=NOW).code == LISTED
