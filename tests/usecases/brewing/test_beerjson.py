"""A recipe of the exchange format, with a hop bound to a lot."""

from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.errors import InvalidRequest
from service.market.people.access import ANYONE
from service.records.goods import lots
from service.records.people import parties
from service.usecases.brewing.beerjson import bitterness_of_recipe
from tests.factories import NOW, LabReportFactory, ListedLotFactory, PartyFactory
from tests.market.brewing.test_beerjson import a_document


def asked(*bound: dict[str, Any]) -> dict[str, Any]:
    return {
        "method": "tinseth",
        "alpha_basis": "as_analysed",
        "beerjson": a_document(),
        "recipe": 0,
        "lots": list(bound),
    }


@pytest.fixture
def lot_session(session: Session) -> Session:
    parties.add(session, PartyFactory(code="ALDER"))
    lot = ListedLotFactory(code="ALDER-2026-01", reports=(LabReportFactory(code="R1"),))
    lots.add(session, lot, cultivar_key="WILLAMETTE")
    return session


def test_a_bound_hop_is_reckoned_by_the_lots_alpha(lot_session: Session) -> None:
    bound = {"addition": 0, "lot_code": "ALDER-2026-01"}

    _, plain = bitterness_of_recipe(lot_session, caller=ANYONE, asked=asked(), now=NOW)
    recipe, by_lot = bitterness_of_recipe(lot_session, caller=ANYONE, asked=asked(bound, bound), now=NOW)

    assert plain.ibu is not None
    assert by_lot.ibu is not None
    assert by_lot.ibu.estimate == pytest.approx(plain.ibu.estimate * 5.4 / 10.0)
    assert by_lot.inputs_not_used == recipe.inputs_not_used == ("hop_additions/0/alpha_acid",)


def test_a_hop_cannot_be_two_lots(lot_session: Session) -> None:
    first, second = ({"addition": 0, "lot_code": code} for code in ("ALDER-2026-01", "ALDER-2026-02"))

    with pytest.raises(InvalidRequest, match="bound to two lots"):
        bitterness_of_recipe(lot_session, caller=ANYONE, asked=asked(first, second), now=NOW)
