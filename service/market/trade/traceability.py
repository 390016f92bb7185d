"""The tree of lots, from beer to yard and back, as far as a caller may know it.

A lot's grower and the specialist see kilograms and promises. A brewery with a promise sees where its hops
come from, in percent. A grower who gave to a pool sees its own share and where it went. Anybody reads of a
listed lot what its label says. Only the specialist pools several growers' lots.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal

from service.facts import Fact
from service.market.goods.lots import Lot, Step
from service.market.people.access import Caller
from service.market.processing.steps import Edge
from service.market.trade.reservations import LIVE, Reservation


class TreeLot(Fact, frozen=True, kw_only=True):
    """A lot in the tree; what this caller must not know of it is None."""

    code: str
    grower_code: str
    cultivar: str | None
    crop_year: int | None
    form: str
    step: str | None
    done_on: date | None
    mass_kg: Decimal | None
    free_kg: Decimal | None


class TreeEdge(Fact, frozen=True, kw_only=True):
    """What went from a lot into another: the share of the other, and to its parties the kilograms."""

    from_code: str
    into_code: str
    share_percent: float
    mass_kg: Decimal | None
    brought_kg: Decimal | None


class TreeLeaf(Fact, frozen=True, kw_only=True):
    """A promise on a lot of the tree, up to what was delivered."""

    reservation_code: str
    lot_code: str
    brewery_code: str
    state: str
    mass_kg: Decimal


class Tree(Fact, frozen=True, kw_only=True):
    """The tree of a lot, as one caller sees it."""

    lot_code: str
    lots: tuple[TreeLot, ...]
    edges: tuple[TreeEdge, ...]
    leaves: tuple[TreeLeaf, ...]


def visible_codes(
    lots: Mapping[str, Lot],
    edges: Sequence[Edge],
    promises: Sequence[Reservation],
    *,
    caller: Caller,
) -> set[str]:
    """The lots of a tree that a caller may know of.

    Its own, and those it holds or held a promise on, with all they were made of; of a grower's own lots also what
    was made of them next, though not what became of that in another's hands.
    """
    own = own_codes(lots, caller)
    held = {p.lot_code for p in promises if caller.is_party("brewery", p.brewery_code)}
    seen = set(own | held)
    reached = set(seen)
    while reached:
        reached = {edge.from_code for edge in edges if edge.into_code in reached} - seen
        seen |= reached
    return seen | {edge.into_code for edge in edges if edge.from_code in own}


def own_codes(lots: Mapping[str, Lot], caller: Caller) -> set[str]:
    """The lots whose grower the caller is or acts for."""
    return {code for code, lot in lots.items() if caller.acts_for("grower", lot.grower_code)}


def tree_of(
    lot_code: str,
    lots: Mapping[str, Lot],
    edges: Sequence[Edge],
    steps: Mapping[str, Step],
    promises: Sequence[Reservation],
    *,
    caller: Caller,
    now: datetime,
) -> Tree:
    """The tree of a lot as a caller may see it; nothing of other parties stands in it."""
    seen, own = visible_codes(lots, edges, promises, caller=caller), own_codes(lots, caller)
    shown = [edge for edge in edges if edge.from_code in seen and edge.into_code in seen]
    return Tree(
        lot_code=lot_code,
        lots=tuple(_lot(lots[code], steps.get(code), is_own=code in own) for code in sorted(seen)),
        edges=tuple(_edge(edge, lots[edge.into_code], own) for edge in shown),
        leaves=tuple(
            _leaf(promise, now)
            for promise in promises
            if promise.shown_state(now) in LIVE
            and (promise.lot_code in own or caller.is_party("brewery", promise.brewery_code))
        ),
    )


def _lot(lot: Lot, step: Step | None, *, is_own: bool) -> TreeLot:
    return TreeLot(
        code=lot.code,
        grower_code=lot.grower_code,
        cultivar=lot.shown_cultivar,
        crop_year=lot.crop_year,
        form=lot.form,
        step=step.kind if step else None,
        done_on=step.done_on if step else None,
        mass_kg=lot.mass_kg if is_own else None,
        free_kg=lot.free_kg if is_own else None,
    )


def _edge(edge: Edge, into: Lot, own: set[str]) -> TreeEdge:
    weighs = edge.from_code in own or edge.into_code in own
    return TreeEdge(
        from_code=edge.from_code,
        into_code=edge.into_code,
        share_percent=float(100 * edge.mass_kg / into.stock_kg),
        mass_kg=edge.mass_kg if weighs else None,
        brought_kg=edge.brought_kg if weighs else None,
    )


def _leaf(promise: Reservation, now: datetime) -> TreeLeaf:
    return TreeLeaf(
        reservation_code=promise.code,
        lot_code=promise.lot_code,
        brewery_code=promise.brewery_code,
        state=promise.shown_state(now),
        mass_kg=promise.taken_kg if promise.state == "delivered" else promise.mass_kg,
    )
