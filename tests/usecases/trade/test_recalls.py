"""A recall stops the whole family under lock."""

from service.market.people.access import Caller
from service.usecases.trade.recalls import open_recall
from tests.api.processing.test_steps import split
from tests.builders import World
from tests.factories import NOW


def test_parts_of_parts_are_reached_and_a_second_recall_needs_the_first_closed_for_no_one(
    world: World,
) -> None:
    world.grower()
    lot = world.listed(mass_kg=100)
    part = split(world, lot, mass_kg=50).json["code"]
    smaller = split(world, part, mass_kg=20).json["code"]

    def recall(code: str) -> list[str]:
        opened = world.records.write(
            lambda s: open_recall(
                s,
                caller=Caller("grower", "ALDER"),
                lot_code=code,
                concern="spray",
                words="the interval was not kept",
                now=NOW,
            )
        )
        return list(opened.lot_codes)

    assert recall(part) == [part, smaller]
    assert recall(lot) == [lot, part, smaller]
