"""What the region grows: kilograms by cultivar, crop year and form, and the alpha acids in what is free.

In the interval of a sum of alpha, laboratories and samples of different lots are independent and the doubt
about storage is shared by all lots, the wider reading. Masses are added up by the database; alpha needs
each analysed lot as a narrow row.
"""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal

import numpy as np

from service.facts import Fact
from service.market.matching.candidates import Floats
from service.market.planning.outlook import (
    LISTED_ONLY,
    NONE,
    GoodsKind,
    Stock,
    StockOfKind,
    SupplyWish,
    add_up,
    as_seen,
    shown_cultivar,
)
from service.science.arrays import Numbers
from service.science.uncertainty import (
    NORMAL_95TH,
    Estimate,
    HalfWidths,
    combine_half_widths,
    estimate_from_half_widths,
)

# Of fewer lots a median tells of single lots; house rule, assumption, no source.
QUANTILES_FROM_LOTS = 3
# More kinds of goods than a region grows in ten years; the totals count what is left out all the same.
ROWS_MAX = 1000
WHERE_IT_IS = (
    "mass = free + not offered + held + confirmed + delivered + moved into other lots + lost, to the gram; what was split"
    " off, pressed or dried of other lots stands in their mass too, and grown_kg leaves it out"
)
SUPPLY_METHODS = (
    "alpha of each listed lot as the search estimates it for the day, times what is free of it; what nobody analysed is"
    " not_analysed_kg and no part of the sum",
    "interval of a sum: laboratories and samples of different lots independent of each other, storage doubtful for all"
    " lots alike (lows add to lows), both joined as logarithms in quadrature",
    f"quantiles count each listed lot once, from {QUANTILES_FROM_LOTS} analysed lots on",
    "prices of what is free, least and largest in each currency, never across currencies",
)
SUPPLY_ASSUMPTIONS = (
    "an error that all laboratories of the region share would make the interval of a sum wider than it is told"
    " (assumption, no source)",
    "lots are stored on as they are stored now",
)


class PriceRange(Fact, frozen=True, kw_only=True):
    """Prices in one currency of what is free."""

    currency: str
    lots: int
    free_kg: Decimal
    least_per_kg: Decimal
    largest_per_kg: Decimal


class AlphaColumns(Fact, frozen=True, kw_only=True):
    """Listed lots whose alpha is known, column by column, on one day.

    The logarithm of alpha may be lower by `below_log` and higher by `above_log` for what is doubtful of storage.
    """

    kind: Sequence[GoodsKind]
    method: Sequence[str | None]
    free_kg: Floats
    log_alpha: Floats
    sd_log: Floats
    below_log: Floats
    above_log: Floats


class Quantiles(Fact, frozen=True, kw_only=True):
    """The spread of lots, each counted once."""

    least: float
    quarter: float
    median: float
    three_quarters: float
    largest: float


class AlphaOnOffer(Fact, frozen=True, kw_only=True):
    """The alpha acids in the weighed hops that are free; what nobody analysed is told apart and never counts as zero."""

    lots: int
    analysed_kg: Decimal
    not_analysed_kg: Decimal
    alpha_kg: Estimate | None
    alpha_percent: Quantiles | None
    methods: tuple[str, ...]


class SupplyRow(Fact, frozen=True, kw_only=True):
    """The lots of one kind; None under `cultivar` is a lot made of several."""

    kind: GoodsKind | None
    cultivar: str | None
    growers: int
    weighed: Stock
    announced: Stock
    alpha: AlphaOnOffer
    prices: tuple[PriceRange, ...]


class Supply(Fact, frozen=True, kw_only=True):
    """What the region grows, as one caller may see it."""

    as_of: date
    is_whole: bool
    rows: tuple[SupplyRow, ...]
    totals: SupplyRow
    methods: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def put_supply_together(
    found: Sequence[StockOfKind],
    *,
    wish: SupplyWish,
    growers: Mapping[GoodsKind, int],
    growers_in_all: int,
    alphas: AlphaColumns,
    prices: Mapping[GoodsKind, Sequence[PriceRange]],
) -> Supply:
    """Lay sums, alpha and prices of each kind side by side; newest crop first, then by cultivar and form."""
    names = {one.kind: one.cultivar for one in found}
    stocks = {(one.kind, one.is_weighed): one.stock for one in found}
    places = _places_by_kind(alphas.kind)
    rows = [
        _row(
            kind,
            shown_cultivar(names[kind]),
            growers=growers[kind],
            weighed=as_seen(stocks.get((kind, True), Stock()), wish=wish),
            announced=as_seen(stocks.get((kind, False), Stock()), wish=wish),
            alphas=alphas,
            places=places.get(kind, []),
            prices=tuple(prices.get(kind, ())),
        )
        for kind in sorted(
            names, key=lambda kind: (-(kind.crop_year or 0), names[kind], kind.form, kind.role)
        )
    ]
    totals = _row(
        None,
        None,
        growers=growers_in_all,
        weighed=as_seen(add_up(one.stock for one in found if one.is_weighed), wish=wish),
        announced=as_seen(add_up(one.stock for one in found if not one.is_weighed), wish=wish),
        alphas=alphas,
        places=range(len(alphas.kind)),
        prices=_widest(price for row in rows for price in row.prices),
    )
    return Supply(
        as_of=wish.today,
        is_whole=not wish.listed_only,
        rows=tuple(rows[:ROWS_MAX]),
        totals=totals,
        methods=SUPPLY_METHODS if wish.listed_only else (WHERE_IT_IS, *SUPPLY_METHODS),
        assumptions=SUPPLY_ASSUMPTIONS,
        cautions=tuple(_cautions(rows, totals, listed_only=wish.listed_only)),
    )


def alpha_estimate_kg(
    free_kg: Numbers, log_alpha: Numbers, *, sd_log: Numbers, below_log: Numbers, above_log: Numbers
) -> Estimate:
    """The alpha acids in several lots together, with the interval of their sum.

    Laboratories and samples of different lots are taken as independent: their parts add in quadrature. The doubts
    about storage are taken as shared by all lots: lows add to lows, highs to highs, which is the wider reading. Both
    join in quadrature as logarithms, as they do for a single lot.
    """
    each = free_kg * np.exp(log_alpha) / 100
    whole = float(each.sum())
    lower = each * -np.expm1(-NORMAL_95TH * sd_log)
    higher = each * np.expm1(NORMAL_95TH * sd_log)
    measured = HalfWidths(
        -math.log1p(-float(np.linalg.norm(lower)) / whole), math.log1p(float(np.linalg.norm(higher)) / whole)
    )
    stored = HalfWidths(
        -math.log(float((each * np.exp(-below_log)).sum()) / whole),
        math.log(float((each * np.exp(above_log)).sum()) / whole),
    )
    return estimate_from_half_widths(
        estimate=whole, half_widths=combine_half_widths(parts=[measured, stored])
    )


def _alpha(alphas: AlphaColumns, places: Sequence[int], free_kg: Decimal, *, alike: bool) -> AlphaOnOffer:
    chosen = list(places)
    free = alphas.free_kg[chosen]
    # Whole grams; a column of floats has lost no more than their last digits.
    analysed = Decimal(round(float(free.sum()) * 1000)).scaleb(-3)
    return AlphaOnOffer(
        lots=len(chosen),
        analysed_kg=analysed,
        not_analysed_kg=free_kg - analysed,
        alpha_kg=alpha_estimate_kg(
            free,
            alphas.log_alpha[chosen],
            sd_log=alphas.sd_log[chosen],
            below_log=alphas.below_log[chosen],
            above_log=alphas.above_log[chosen],
        )
        if analysed > 0
        else None,
        # Of several cultivars together no median tells anything.
        alpha_percent=_quantiles(np.exp(alphas.log_alpha[chosen])) if alike else None,
        methods=tuple(sorted({method for place in chosen if (method := alphas.method[place])})),
    )


def _quantiles(alpha_percent: Numbers) -> Quantiles | None:
    if len(alpha_percent) < QUANTILES_FROM_LOTS:
        return None
    least, quarter, median, three_quarters, largest = np.quantile(
        alpha_percent, [0, 0.25, 0.5, 0.75, 1]
    ).tolist()
    return Quantiles(
        least=least, quarter=quarter, median=median, three_quarters=three_quarters, largest=largest
    )


def _widest(prices: Iterable[PriceRange]) -> tuple[PriceRange, ...]:
    by_currency: dict[str, list[PriceRange]] = {}
    for price in prices:
        by_currency.setdefault(price.currency, []).append(price)
    return tuple(
        PriceRange(
            currency=currency,
            lots=sum(one.lots for one in found),
            free_kg=sum((one.free_kg for one in found), NONE),
            least_per_kg=min(one.least_per_kg for one in found),
            largest_per_kg=max(one.largest_per_kg for one in found),
        )
        for currency, found in sorted(by_currency.items())
    )


def _cautions(rows: Sequence[SupplyRow], totals: SupplyRow, *, listed_only: bool) -> Iterator[str]:
    if listed_only:
        yield LISTED_ONLY
    if len(rows) > ROWS_MAX:
        left_out = len(rows) - ROWS_MAX
        yield f"{left_out} rows of the oldest crops are left out, though the totals count them; name a crop_year"
    if any(row.kind is not None and row.kind.form == "wet_hop" for row in rows):
        yield "wet hops weigh what they weighed when picked, and stand so in the totals beside dry ones"
    if len(totals.alpha.methods) > 1:
        yield f"alpha was measured by {', '.join(totals.alpha.methods)}, which are not one scale"


def _places_by_kind(kinds: Sequence[GoodsKind]) -> dict[GoodsKind, list[int]]:
    found: dict[GoodsKind, list[int]] = {}
    for place, kind in enumerate(kinds):
        found.setdefault(kind, []).append(place)
    return found


def _row(
    kind: GoodsKind | None,
    cultivar: str | None,
    *,
    growers: int,
    weighed: Stock,
    announced: Stock,
    alphas: AlphaColumns,
    places: Sequence[int],
    prices: tuple[PriceRange, ...],
) -> SupplyRow:
    return SupplyRow(
        kind=kind,
        cultivar=cultivar,
        growers=growers,
        weighed=weighed,
        announced=announced,
        alpha=_alpha(alphas, places, weighed.free_kg, alike=kind is not None),
        prices=prices,
    )
