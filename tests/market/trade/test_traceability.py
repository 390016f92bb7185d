from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.market.goods.lots import Step
from service.market.people.access import ANYONE, Caller
from service.market.processing.steps import Edge
from service.market.trade.reservations import Reservation
from service.market.trade.traceability import own_codes, tree_of, visible_codes
from tests.factories import NOW, TODAY, LotFactory

# Two growers' cones go into a pool that ALDER keeps; a part of the pool is split off; FINCH and TEAL have of both.
LOTS = {
    code: LotFactory(code=code, grower_code=grower, mass_kg=Decimal(100))
    for code, grower in (("A1", "ALDER"), ("R1", "ROWAN"), ("P1", "ALDER"), ("P2", "ALDER"), ("R2", "ROWAN"))
}


def edge(from_code: str, into_code: str, mass: Any = 50) -> Edge:
    mass_kg = Decimal(mass)
    return Edge(from_code=from_code, into_code=into_code, mass_kg=mass_kg, brought_kg=mass_kg + 2)


EDGES = (edge("A1", "P1"), edge("R1", "P1"), edge("R2", "R1", 100), edge("P1", "P2", 100))


def promise(code: str, lot: str, brewery: str, **told: Any) -> Reservation:
    plain = {"state": "held", "held_until": NOW + timedelta(days=1), "mass_kg": Decimal(9)}
    made = {"made_at": NOW, "made_by": "x", "changed_at": NOW, "changed_by": "x"}
    return Reservation(
        code=code,
        lot_code=lot,
        grower_code=LOTS[lot].grower_code,
        brewery_code=brewery,
        **{**plain, **made, **told},
    )


PROMISES = (
    promise("F1", "P2", "FINCH", state="delivered", delivered_kg=Decimal(8), delivered_on=TODAY),
    promise("T1", "P1", "TEAL"),
    promise("T2", "R1", "TEAL", held_until=NOW - timedelta(days=1)),
)
ALDER, ROWAN, FINCH = Caller("grower", "ALDER"), Caller("grower", "ROWAN"), Caller("brewery", "FINCH")
STEP = Step(lot_code="P1", kind="pelletizing", began_on=TODAY, done_on=TODAY, made_at=NOW, made_by="x")


def seen(caller: Caller) -> Any:
    return tree_of("P1", LOTS, EDGES, {"P1": STEP}, PROMISES, caller=caller, now=NOW)


@pytest.mark.parametrize(
    ("caller", "codes"),
    [
        (Caller("specialist"), {"A1", "R1", "P1", "P2", "R2"}),
        (ALDER, {"A1", "R1", "P1", "P2", "R2"}),
        # A grower who gave to the pool sees where its hops went, not what its keeper did with it.
        (ROWAN, {"R1", "R2", "P1"}),
        (FINCH, {"A1", "R1", "P1", "P2", "R2"}),
        (Caller("brewery", "OTHER"), set()),
        (ANYONE, set()),
    ],
)
def test_everybody_sees_as_far_as_it_may(caller: Caller, codes: set[str]) -> None:
    assert visible_codes(LOTS, EDGES, PROMISES, caller=caller) == codes
    assert {lot.code for lot in seen(caller).lots} == codes


def test_a_brewery_walks_from_beer_to_yard_without_anothers_kilograms_or_promises() -> None:
    tree = seen(FINCH)

    assert {(e.from_code, e.into_code) for e in tree.edges} == {(e.from_code, e.into_code) for e in EDGES}
    assert {e.mass_kg for e in tree.edges} == {None}
    assert {lot.mass_kg for lot in tree.lots} == {None}
    assert [round(e.share_percent) for e in tree.edges] == [50, 50, 100, 100]
    assert [(leaf.reservation_code, leaf.mass_kg) for leaf in tree.leaves] == [("F1", Decimal(8))]


def test_a_grower_weighs_its_own_edges_and_sees_the_promises_on_its_own_lots() -> None:
    assert [leaf.reservation_code for leaf in seen(ALDER).leaves] == ["F1", "T1"]
    assert seen(ROWAN).leaves == ()
    assert [(e.from_code, e.into_code, e.mass_kg) for e in seen(ROWAN).edges] == [
        ("R1", "P1", Decimal(50)),
        ("R2", "R1", Decimal(100)),
    ]
    masses = {lot.code: lot.mass_kg for lot in seen(ALDER).lots}
    assert (masses["A1"], masses["R1"]) == (Decimal(100), None)
    assert [(lot.step, lot.done_on) for lot in seen(ALDER).lots if lot.code == "P1"] == [
        ("pelletizing", TODAY)
    ]


def test_the_specialist_owns_nothing_and_sees_all() -> None:
    assert own_codes(LOTS, Caller("specialist")) == set(LOTS)
    assert own_codes(LOTS, FINCH) == set()
    assert all(e.mass_kg is not None for e in seen(Caller("specialist")).edges)
