"""Consistency out of the books, on both databases."""

from service.market.people.access import Caller
from service.usecases.goods.consistency import show_consistency
from tests.builders import World
from tests.factories import NOW


def test_lots_that_were_listed_count_and_drafts_do_not(world: World) -> None:
    world.grower()
    world.grower("BIRCH")
    world.listed()
    world.listed(cultivar="Cascade")
    world.draft()
    world.listed("BIRCH")
    withdrawn = world.listed(report={"alpha_percent": 6.0})
    world.delete(f"/v1/lots/{withdrawn}/listing", who="ALDER")

    found = world.records.read(
        lambda s: show_consistency(
            s,
            "ALDER",
            caller=Caller("grower", "ALDER"),
            cultivar="willamette",
            lot_code=withdrawn,
            now=NOW,
        )
    )

    assert (found.lots, found.cultivar) == (2, "Willamette")
    alpha = next(f for f in found.figures if f.name == "alpha_percent")
    assert (alpha.spread and alpha.spread.median, alpha.standing and alpha.standing.of) == (5.7, 2)
