"""The region as its specialist sees it: which goods are summed, where their kilograms are, what is to be
picked.

Others get only sums over listed lots, of figures that the search shows line by line. So a row of one
grower, or the difference of two answers, tells no more than the search. Where kilograms went, and demand,
are for the specialist: sums over three breweries would tell each of two what the other wants.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from service.facts import Fact, field_names, replace
from service.market.goods.lots import BLEND
from service.market.people.access import Caller

NONE = Decimal(0)


class GoodsKind(Fact, frozen=True, kw_only=True):
    """What a row of the supply stands for."""

    cultivar_key: str
    role: str
    crop_year: int | None
    form: str


class SupplyWish(Fact, frozen=True, kw_only=True):
    """Which goods are summed, and for whom: others than the specialist see listed lots alone."""

    today: date
    listed_only: bool
    sees_all_prices: bool
    cultivar_keys: tuple[str, ...] = ()
    roles: tuple[str, ...] = ()
    crop_year: int | None = None
    form: str | None = None


class Stock(Fact, frozen=True, kw_only=True):
    """Kilograms of some lots: what they were made with (or what is expected), and where it is.

    mass = free + not offered + held + confirmed + delivered + moved into other lots + lost, to the gram. `from_lots_kg`
    is what came out of other lots and stands in their mass already; `reported_kg` the mass of lots with a lab report
    that stands. None is not for this caller to know.
    """

    lots: int = 0
    mass_kg: Decimal = NONE
    free_kg: Decimal = NONE
    not_offered_kg: Decimal | None = NONE
    held_kg: Decimal | None = NONE
    confirmed_kg: Decimal | None = NONE
    delivered_kg: Decimal | None = NONE
    moved_kg: Decimal | None = NONE
    lost_kg: Decimal | None = NONE
    from_lots_kg: Decimal | None = NONE
    reported_kg: Decimal = NONE

    @property
    def grown_kg(self) -> Decimal | None:
        """What came from the yard: what was split off, pressed or dried of other lots is not counted again."""
        return None if self.from_lots_kg is None else self.mass_kg - self.from_lots_kg

    @property
    def reported_percent(self) -> float | None:
        """The share of the mass with a lab report."""
        return round(float(100 * self.reported_kg / self.mass_kg), 2) if self.mass_kg > 0 else None


class StockOfKind(Fact, frozen=True, kw_only=True):
    """The weighed or the announced lots of a kind, as the records add them up."""

    kind: GoodsKind
    cultivar: str
    is_weighed: bool
    stock: Stock


class HarvestRow(Fact, frozen=True, kw_only=True):
    """Lots announced with one picking window, none of them weighed yet; overdue once the window has passed."""

    cultivar: str | None
    role: str
    form: str
    harvest_window_from: date | None
    harvest_window_to: date | None
    growers: int
    stock: Stock
    is_overdue: bool = False


class Harvest(Fact, frozen=True, kw_only=True):
    """What growers announced: next season's expected supply, and nothing beyond it."""

    as_of: date
    is_whole: bool
    rows: tuple[HarvestRow, ...]
    totals: Stock
    overdue_kg: Decimal
    methods: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


SPECIALIST_ONLY = (
    "not_offered_kg",
    "held_kg",
    "confirmed_kg",
    "delivered_kg",
    "moved_kg",
    "lost_kg",
    "from_lots_kg",
)
LISTED_ONLY = "these sums are of listed lots as anybody may see them; the specialist sees the whole region"
HARVEST_METHODS = (
    "lots that growers announced with an expected mass and did not weigh yet, summed by cultivar, form and picking"
    " window; nothing is forecast beyond what growers announced",
)


def sees_whole_region(caller: Caller) -> bool:
    """Whether a caller sees sums over all lots, and where their kilograms went: the specialist alone.

    Everybody else gets sums over listed lots, of figures that the search and the lots themselves show line by line, so
    that a row of one grower tells no more than those do.
    """
    return caller.is_specialist


def look_at_harvest(found: Sequence[HarvestRow], *, wish: SupplyWish) -> Harvest:
    """Put announced lots together, the earliest window first."""
    rows = [
        replace(row, stock=as_seen(row.stock, wish=wish), is_overdue=_has_passed(row, wish.today))
        for row in found
    ]
    return Harvest(
        as_of=wish.today,
        is_whole=not wish.listed_only,
        rows=tuple(sorted(rows, key=_by_window)),
        totals=as_seen(add_up(row.stock for row in found), wish=wish),
        overdue_kg=sum((row.stock.mass_kg for row in rows if row.is_overdue), NONE),
        methods=HARVEST_METHODS,
        assumptions=(),
        cautions=(LISTED_ONLY,) if wish.listed_only else (),
    )


def _has_passed(row: HarvestRow, today: date) -> bool:
    return row.harvest_window_to is not None and row.harvest_window_to < today


def _by_window(row: HarvestRow) -> tuple[date, date, str, str, str]:
    first, last = row.harvest_window_from or date.max, row.harvest_window_to or date.max
    return first, last, row.cultivar or "", row.form, row.role


def as_seen(stock: Stock, *, wish: SupplyWish) -> Stock:
    """A stock as a caller may see it: where kilograms went is between the parties and the specialist."""
    hidden: dict[str, Any] = dict.fromkeys(SPECIALIST_ONLY)
    return replace(stock, **hidden) if wish.listed_only else stock


def shown_cultivar(name: str) -> str | None:
    """The cultivar as callers see it."""
    return None if name == BLEND else name


def add_up(stocks: Iterable[Stock]) -> Stock:
    """Add stocks, column by column."""
    every = list(stocks)
    summed: dict[str, Any] = {
        name: sum((getattr(one, name) for one in every), NONE)
        for name in field_names(Stock)
        if name != "lots"
    }
    return Stock(lots=sum(one.lots for one in every), **summed)
