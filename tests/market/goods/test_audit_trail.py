"""The lines of the trail: for whom, and as whom they are read."""

from typing import Any

import pytest

from service.market.goods.audit_trail import Change, Reading, as_read, decide_reading
from service.market.people.access import Caller
from tests.factories import NOW


def a_change(**told: Any) -> Change:
    return Change(
        **{"number": 1, "at": NOW, "by": "specialist", "act": "changed", "kind": "lot", "code": "X"}
        | {"fields": {}}
        | told
    )


@pytest.mark.parametrize(
    ("told", "made_for"),
    [
        ({"by": "grower:ALDER", "grower_code": "ALDER"}, None),
        ({"grower_code": "ALDER"}, "grower:ALDER"),
        ({"brewery_code": "FINCH"}, "brewery:FINCH"),
        ({}, None),
        ({"grower_code": "ALDER", "brewery_code": "FINCH"}, None),
        (
            {
                "grower_code": "ALDER",
                "brewery_code": "FINCH",
                "fields": {"brewery_confirmed": [False, True]},
            },
            "brewery:FINCH",
        ),
    ],
)
def test_made_for_names_the_party_the_specialist_acted_for(told: dict[str, Any], made_for: str) -> None:
    assert a_change(**told).made_for == made_for


def test_a_brewery_is_not_told_which_other_brewery_moved_the_kilograms() -> None:
    moved = a_change(by="brewery:TEAL", grower_code="ALDER", lot_code="X")

    assert as_read(moved, Reading(brewery_code="FINCH", of_lot="X")).by == "another brewery"
    assert as_read(moved, Reading(brewery_code="TEAL", of_lot="X")).by == "brewery:TEAL"
    assert as_read(moved, Reading(grower_code="ALDER")).by == "brewery:TEAL"


def test_a_commitment_opens_the_lot_to_the_brewery_alone() -> None:
    committed = decide_reading(Caller("brewery", "FINCH"), committed_to_lot="X")

    assert committed == Reading(brewery_code="FINCH", of_lot="X")
    assert decide_reading(Caller("grower", "ALDER"), committed_to_lot="X") == Reading(grower_code="ALDER")
