"""Who may brew with which lots, and with whose utilization."""

from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.errors import InvalidRequest, NotAllowed, NotFound, TokenNeeded, UnfitBrews
from service.facts import replace
from service.market.people.access import ANYONE, Caller
from service.market.storage.storage import StoragePlan
from service.records.goods import lots
from service.records.people import parties
from service.usecases.brewing.brews import method_of, plan_of, reckon_brew
from tests.factories import NOW, TODAY, LabReportFactory, ListedLotFactory, PartyFactory

FINCH, WREN = Caller("brewery", "FINCH"), Caller("brewery", "WREN")
ALDER, SPECIALIST = Caller("grower", "ALDER"), Caller("specialist")


def asked(**told: Any) -> dict[str, Any]:
    addition = {"lot_code": "ALDER-2026-01", "mass_g": 900.0, "at": "boil", "minutes": 60.0}
    return {
        "method": "tinseth",
        "alpha_basis": "as_analysed",
        "wort": {"volume_l": 1000.0, "gravity_sg": 1.05},
        "additions": [addition],
        **told,
    }


@pytest.fixture
def lot_session(session: Session) -> Session:
    parties.add(session, PartyFactory(code="ALDER"))
    lot = ListedLotFactory(code="ALDER-2026-01", reports=(LabReportFactory(code="R1"),))
    lots.add(session, lot, cultivar_key="WILLAMETTE")
    withdrawn = replace(lot, code="ALDER-2026-02", state="withdrawn")
    lots.add(session, withdrawn, cultivar_key="WILLAMETTE")
    return session


def test_anyone_brews_with_a_listed_lot(lot_session: Session) -> None:
    found = reckon_brew(lot_session, caller=ANYONE, asked=asked(), now=NOW)

    assert found.additions[0].addition.alpha.percent == 5.4


def test_a_withdrawn_lot_is_its_growers_own(lot_session: Session) -> None:
    addition = {**asked()["additions"][0], "lot_code": "ALDER-2026-02"}
    hidden = asked(additions=[addition])

    for caller in (ANYONE, FINCH):
        with pytest.raises(NotFound, match="ALDER-2026-02"):
            reckon_brew(lot_session, caller=caller, asked=hidden, now=NOW)
    for caller in (ALDER, SPECIALIST):
        assert reckon_brew(lot_session, caller=caller, asked=hidden, now=NOW).ibu is not None


@pytest.mark.parametrize(
    ("caller", "code", "refusal"),
    [
        (ANYONE, None, TokenNeeded),
        (ALDER, None, NotAllowed),
        (WREN, "FINCH", NotAllowed),
        (SPECIALIST, None, InvalidRequest),
        (FINCH, None, UnfitBrews),
        (SPECIALIST, "FINCH", UnfitBrews),
    ],
)
def test_a_brewerys_own_utilization_is_for_itself(
    session: Session, caller: Caller, code: str | None, refusal: type[Exception]
) -> None:
    with pytest.raises(refusal):
        method_of(session, caller, asked(method="brewhouse", brewery_code=code))


def test_other_methods_need_no_fit(session: Session) -> None:
    assert method_of(session, ANYONE, asked()).code == "tinseth"


def test_a_plan_begins_today_unless_it_says_when() -> None:
    kept = {"kept_at_c": 4.0, "packing": "open"}

    assert plan_of(asked(), now=NOW) is None
    assert plan_of(asked(storage=kept), now=NOW) == StoragePlan(from_on=TODAY, kept_at_c=4.0, packing="open")
