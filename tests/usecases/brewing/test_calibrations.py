"""A brewery keeps its measured brews; what is refused leaves nothing behind."""

from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.errors import NotAllowed, NotFound, OutOfRange, TokenNeeded, UnfitBrews
from service.market.brewing.calibrations import MeasuredBrew
from service.market.people.access import ANYONE, Caller
from service.records.goods import lots
from service.records.people import parties
from service.usecases.brewing.calibrations import file_brew, list_brews, take_back_brew, utilization_of
from tests.factories import NOW, LabReportFactory, ListedLotFactory, PartyFactory

FINCH, WREN = Caller("brewery", "FINCH"), Caller("brewery", "WREN")
TINSETH = {"base_model": "tinseth", "alpha_basis": "estimated"}


def told(mass_g: float = 30.0, measured_bu: float = 38.06, **hops: Any) -> dict[str, Any]:
    named = hops or {"alpha_percent": 10.0}
    return {
        "brewed_on": date(2026, 11, 2),
        "measured_bu": measured_bu,
        "wort": {"volume_l": 20.0, "gravity_sg": 1.05},
        "additions": [{**named, "mass_g": mass_g, "at": "boil", "minutes": 60.0}],
    }


def filed(session: Session, caller: Caller = FINCH, **asked: Any) -> MeasuredBrew:
    return file_brew(session, "FINCH", caller=caller, asked={**told(), **asked}, now=NOW)


def kept(session: Session) -> list[MeasuredBrew]:
    return list(list_brews(session, "FINCH", caller=FINCH, after=None, limit=10))


@pytest.fixture
def brewery_session(session: Session) -> Session:
    parties.add(session, PartyFactory(kind="brewery", code="FINCH"))
    return session


def test_a_brew_is_kept_with_who_filed_it_and_as_it_was_told(brewery_session: Session) -> None:
    made = filed(brewery_session, note="spring")

    assert kept(brewery_session) == [made]
    assert (made.code, made.filed_by, made.note) == ("FINCH-BREW-01", "brewery:FINCH", "spring")
    assert made.told["additions"] == told()["additions"]


def test_the_utilization_follows_from_the_brews(brewery_session: Session) -> None:
    for mass_g, bu in ((30.0, 38.06), (20.0, 25.8), (40.0, 49.9)):
        filed(brewery_session, **told(mass_g, bu))
    odd = filed(brewery_session, **told(30.0, 30.0))
    with_it = utilization_of(brewery_session, "FINCH", caller=FINCH, **TINSETH)

    take_back_brew(brewery_session, "FINCH", odd.code, caller=FINCH)
    without = utilization_of(brewery_session, "FINCH", caller=FINCH, **TINSETH)

    assert (with_it.fit.brews, without.fit.brews) == (4, 3)
    assert without.fit.factor == pytest.approx(1.1, abs=0.02)
    assert with_it.fit.factor < without.fit.factor
    assert without.fit.left_out_error_log < with_it.fit.left_out_error_log


def test_a_lot_counts_with_the_alpha_of_the_day_and_as_analysed(brewery_session: Session) -> None:
    parties.add(brewery_session, PartyFactory(code="ALDER"))
    lot = ListedLotFactory(code="ALDER-2026-01", reports=(LabReportFactory(code="R1"),))
    lots.add(brewery_session, lot, cultivar_key="WILLAMETTE")
    analysed = lot.reports[0]

    made = filed(brewery_session, **told(lot_code="ALDER-2026-01", measured_bu=15.0))
    (hops,) = made.hops

    assert made.brewed_on > analysed.sampled_on
    assert hops["form"] == lot.form
    assert hops["estimated"] < hops["as_analysed"] == 5.4


def test_a_brew_that_is_refused_leaves_nothing(brewery_session: Session) -> None:
    with pytest.raises(OutOfRange):
        filed(brewery_session, measured_bu=0.0)

    assert kept(brewery_session) == []


def test_few_brews_give_no_utilization(brewery_session: Session) -> None:
    filed(brewery_session)

    with pytest.raises(UnfitBrews, match="1 brews with measured bitterness are known, 3 are needed"):
        utilization_of(brewery_session, "FINCH", caller=FINCH, **TINSETH)


@pytest.mark.parametrize(("caller", "refusal"), [(ANYONE, TokenNeeded), (WREN, NotAllowed)])
def test_brews_are_the_brewerys_own(
    brewery_session: Session, caller: Caller, refusal: type[Exception]
) -> None:
    code = filed(brewery_session).code
    for call in (
        lambda: filed(brewery_session, caller),
        lambda: list_brews(brewery_session, "FINCH", caller=caller, after=None, limit=10),
        lambda: take_back_brew(brewery_session, "FINCH", code, caller=caller),
        lambda: utilization_of(brewery_session, "FINCH", caller=caller, **TINSETH),
    ):
        with pytest.raises(refusal):
            call()
    assert len(kept(brewery_session)) == 1


def test_a_brewery_that_is_not_there_keeps_nothing(session: Session) -> None:
    with pytest.raises(NotFound):
        filed(session, Caller("specialist"))


def test_brews_come_newest_first(brewery_session: Session) -> None:
    first = filed(brewery_session)
    later = NOW + timedelta(hours=1)
    second = file_brew(brewery_session, "FINCH", caller=FINCH, asked=told(), now=later)

    assert kept(brewery_session) == [second, first]
