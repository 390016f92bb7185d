"""The bitterness of a brew with lots, and a dose of one of them."""

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.errors import InvalidRequest, NotFound
from service.market.people.access import ANYONE, Caller
from service.records.goods import lots
from service.records.people import parties
from service.usecases.brewing.bitterness import bitterness_of_brew, dose_hops
from tests.factories import NOW, LabReportFactory, ListedLotFactory, PartyFactory

ADDITION = {"lot_code": "ALDER-2026-01", "mass_g": 900.0, "at": "boil", "minutes": 60.0}
DOSE = {"lot_code": "ALDER-2026-01", "at": "boil", "minutes": 60.0}


def asked(**told: Any) -> dict[str, Any]:
    return {
        "method": "tinseth",
        "alpha_basis": "as_analysed",
        "wort": {"volume_l": 1000.0, "gravity_sg": 1.05},
        "additions": [],
        **told,
    }


@pytest.fixture
def lot_session(session: Session) -> Session:
    parties.add(session, PartyFactory(code="ALDER"))
    lot = ListedLotFactory(
        code="ALDER-2026-01",
        reports=(LabReportFactory(code="R1"),),
        price_per_kg=Decimal("24"),
        currency="CAD",
    )
    lots.add(session, lot, cultivar_key="WILLAMETTE")
    return session


def test_a_dose_gives_back_the_bitterness_it_was_made_for(lot_session: Session) -> None:
    brewed = bitterness_of_brew(lot_session, caller=ANYONE, asked=asked(additions=[ADDITION]), now=NOW)
    assert brewed.ibu is not None

    dosed = dose_hops(
        lot_session, caller=ANYONE, asked=asked(dose=DOSE, wanted_ibu=brewed.ibu.estimate), now=NOW
    )

    assert dosed.mass_g == pytest.approx(900.0)
    assert dosed.bitterness.additions[0].addition.pointer == "#/dose"


@pytest.mark.parametrize(("caller", "is_seen"), [(ANYONE, False), (Caller("brewery", "FINCH"), True)])
def test_a_hidden_price_stays_hidden(lot_session: Session, caller: Caller, is_seen: bool) -> None:
    dosed = dose_hops(lot_session, caller=caller, asked=asked(dose=DOSE, wanted_ibu=20.0), now=NOW)

    assert (dosed.cost is not None) is is_seen


def test_a_swap_takes_the_place_of_the_hop_it_replaces(lot_session: Session) -> None:
    old = {"alpha_percent": 10.8, "mass_g": 450.0, "at": "whirlpool", "minutes": 20.0, "temperature_c": 85.0}

    dosed = dose_hops(
        lot_session,
        caller=ANYONE,
        asked=asked(additions=[old], dose={"lot_code": "ALDER-2026-01"}, replaces=0),
        now=NOW,
    )

    assert dosed.mass_g == pytest.approx(900.0)
    (only,) = dosed.bitterness.additions
    assert (only.addition.at, only.addition.temperature_c) == ("whirlpool", 85.0)


def test_what_is_not_there_is_not_dosed(lot_session: Session) -> None:
    with pytest.raises(NotFound):
        dose_hops(
            lot_session,
            caller=ANYONE,
            asked=asked(dose={**DOSE, "lot_code": "ALDER-2026-99"}, wanted_ibu=20.0),
            now=NOW,
        )
    with pytest.raises(InvalidRequest, match="there is no addition 4"):
        dose_hops(lot_session, caller=ANYONE, asked=asked(dose=DOSE, replaces=4), now=NOW)
