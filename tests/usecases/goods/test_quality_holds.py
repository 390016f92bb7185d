"""A hold stops everything at once, and promises wait."""

import pytest

from service.errors import LotOnHold, NotAllowed
from service.market.people.access import Caller
from service.usecases.goods.listing import list_lot
from service.usecases.goods.quality_holds import place_hold
from tests.builders import World
from tests.factories import NOW

TOLD = {"concern": "mould", "words": "grey cones", "now": NOW}


def test_only_its_grower_or_the_specialist_stops_a_lot(world: World) -> None:
    world.grower()
    world.brewery()
    lot = world.listed()

    with pytest.raises(NotAllowed):
        world.records.write(lambda s: place_hold(s, lot, caller=Caller("brewery", "FINCH"), **TOLD))
    hold = world.records.write(lambda s: place_hold(s, lot, caller=Caller("specialist"), **TOLD))

    assert (hold.code, hold.placed_by) == ("H1", "specialist")
    with pytest.raises(LotOnHold):
        world.records.write(
            lambda s: list_lot(s, lot, caller=Caller("grower", "ALDER"), readiness="analysed", now=NOW)
        )
