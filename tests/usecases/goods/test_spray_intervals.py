"""Racing writers: no lot stays listed beside an entry whose interval its picking broke."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from typing import Any

import pytest

from service.errors import PickedInsideInterval, Refusal
from service.market.people.access import Caller
from service.records.goods import lots
from service.usecases.goods.listing import list_lot
from service.usecases.goods.lots import change_lot
from service.usecases.goods.spray_intervals import require_intervals_kept
from service.usecases.growing.sprays import enter_spray
from tests.builders import World
from tests.factories import NOW

ALDER = Caller("grower", "ALDER")
SPRAY: dict[str, Any] = {
    "block": "North",
    "season": None,
    "product": "Mildewstop 50",
    "active_ingredient": "an invented sulfur",
    "sprayed_on": date(2026, 8, 20),
    "harvest_interval_days": 14,
    "note": None,
    "corrects": None,
    "reason": None,
}


@pytest.mark.parametrize("moves_block", [False, True])
def test_a_listing_and_an_entry_at_once_leave_no_such_lot_listed(
    committed_world: World, moves_block: bool
) -> None:
    world = committed_world
    world.grower("ALDER")
    code = world.listed(block=None) if moves_block else world.draft(block="North")
    if not moves_block:
        world.report(code)

    def show(session: Any) -> None:
        if moves_block:
            change_lot(
                session,
                code,
                caller=ALDER,
                changes={"block": "north"},
                now=NOW,
                unless_changed=lambda view: None,
            )
        else:
            list_lot(session, code, caller=ALDER, readiness="analysed", now=NOW)

    def attempt(work: Any) -> str:
        try:
            world.records.write(work)
        except Refusal as refusal:
            return refusal.code
        return "done"

    works = [
        show,
        lambda session: enter_spray(session, "ALDER", caller=ALDER, asked=SPRAY, now=NOW),
    ]
    with ThreadPoolExecutor(2) as pool:
        ended = list(pool.map(attempt, works))

    lot = world.records.read(lambda session: lots.get(session, code, now=NOW))
    assert ended[1] == "done"
    assert ended[0] in ("done", "picked-inside-interval")
    assert lot.state != "listed" or lot.block is None
    if lot.block is not None:
        with pytest.raises(PickedInsideInterval):
            world.records.read(lambda session: require_intervals_kept(session, lot, now=NOW))
