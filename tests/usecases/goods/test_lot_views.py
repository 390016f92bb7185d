"""Lots as they are shown: the same for one as for many, in as few statements."""

from typing import Any

import pytest
import sqlalchemy as sa

from service.records.goods import lots
from service.usecases.goods.lot_views import view_lots
from tests.builders import World
from tests.factories import NOW


@pytest.mark.parametrize("count", [1, 4])
def test_as_many_questions_for_one_lot_as_for_four(world: World, count: int) -> None:
    world.grower("ALDER")
    codes = [world.draft(block=f"Block {number}") for number in range(count)]
    asked: list[str] = []

    def note(_c: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if statement.startswith("SELECT"):
            asked.append(statement)

    def work(session: Any) -> list[str]:
        found = list(lots.get_many(session, codes, now=NOW).values())
        sa.event.listen(world.records.engine, "before_cursor_execute", note)
        views = view_lots(session, found, now=NOW)
        sa.event.remove(world.records.engine, "before_cursor_execute", note)
        return sorted(view.lot.code for view in views)

    assert world.records.read(work) == codes
    # Growers, statuses, sprays, licences, quality reports, samples sent, steps.
    assert len(asked) == 7


def test_nothing_is_asked_for_no_lots(world: World) -> None:
    assert world.records.read(lambda session: view_lots(session, [], now=NOW)) == []
