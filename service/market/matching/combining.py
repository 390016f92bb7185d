"""From a request and the lots that may serve it to the best combination, its proof, or the limits that
clash.

When there is no combination, each limit is relaxed alone, then as few together as possible, by the same
program with slack. A mass or a smallest parcel is relaxed to a tenth at most (house figure). What is
advised lets a combination in; a property test holds it to that. Two combinations at a time are solved in a
process; the third is refused as busy.
"""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np

from service.errors import InvalidRequest
from service.facts import Fact, replace
from service.market.matching.candidates import LotColumns, number
from service.market.matching.combination_model import GRAM, Mix, MixLimit, breaks
from service.market.matching.combination_solving import Mixed, solve_mix
from service.market.matching.combinations import CombinationOrder
from service.market.matching.matching import Ranking, rank_lots
from service.market.matching.needs import MOST_KG, exact_kg
from service.market.matching.requests import Request
from service.science.arrays import Flags, Numbers, Places
from service.science.storage_index import index_from_resin_loss

# What the mix must keep and not each lot; what a lot of it must be is left to each.
OF_THE_MIX = (
    "alpha_percent_min",
    "alpha_percent_max",
    "hop_storage_index_max",
    "moisture_percent_max",
    "oil_ml_per_100g_min",
    "within_km",
    "price_per_kg_max",
    "price_per_kg_alpha_max",
    "parcel_kg_min",
    "lots_max",
)
# The best one is looked for through this share of the time, the reasons through the rest.
BEST_SHARE = 0.6
# So many of the limits that keep lots out are named, those that keep out most.
KEPT_OUT_TOLD = 3


class Combined(Fact, frozen=True, kw_only=True):
    """The program, the places of its lots in the columns, what was found, and what was left out before."""

    ranking: Ranking
    places: Places
    mix: Mix | None
    mixed: Mixed | None
    currency: str | None
    left_out: tuple[str, ...]


def without_limits_of_the_mix(request: Request) -> Request:
    """The request as each single lot must keep it."""
    nothing: dict[str, Any] = dict.fromkeys(OF_THE_MIX)
    return replace(request, **nothing)


def combine(
    request: Request,
    lots: LotColumns,
    order: CombinationOrder,
    *,
    cultivar_keys: tuple[str, ...],
    today: date,
) -> Combined:
    """Find the best combination.

    Raises:
        InvalidRequest: prices in several currencies cannot be added up, and none is named.

    """
    ranking = rank_lots(without_limits_of_the_mix(request), lots, cultivar_keys=cultivar_keys, today=today)
    places = np.array(sorted(ranking.order), dtype=np.int64)
    values = mixed_values(ranking)
    currency = _currency(request, order, lots, places)
    kept, left_out = _usable(request, order, ranking, places, values, currency)
    places = places[kept]
    if len(places) == 0:
        return Combined(
            ranking=ranking, places=places, mix=None, mixed=None, currency=currency, left_out=left_out
        )
    mix = _mix(request, order, ranking, places, values)
    mixed = solve_mix(mix, seconds=order.seconds_max * BEST_SHARE)
    if mixed.mass_kg is not None and breaks(mix, mixed.mass_kg):
        raise AssertionError(f"the combination breaks {sorted(breaks(mix, mixed.mass_kg))}")
    return Combined(
        ranking=ranking, places=places, mix=mix, mixed=mixed, currency=currency, left_out=left_out
    )


def kept_out(
    request: Request, lots: LotColumns, *, cultivar_keys: tuple[str, ...], today: date
) -> dict[str, int]:
    """Of lots that do not come into question, how many fail one limit on single lots alone, by its name."""
    ranking = rank_lots(without_limits_of_the_mix(request), lots, cultivar_keys=cultivar_keys, today=today)
    fails = np.array([~limit.holds for limit in ranking.limits], dtype=np.bool_)
    fails = fails.reshape(len(ranking.limits), len(lots))
    alone = fails[:, fails.sum(axis=0) == 1].sum(axis=1)
    found = {limit.name: int(n) for limit, n in zip(ranking.limits, alone, strict=True) if n}
    return dict(sorted(found.items(), key=lambda one: (-one[1], one[0]))[:KEPT_OUT_TOLD])


def mixed_values(ranking: Ranking) -> dict[str, Numbers]:
    """The figures of each lot that are averaged in a mix, on the days that count; NaN where never measured."""
    lots, needs = ranking.lots, ranking.needs
    return {
        "alpha_percent_min": np.exp(lots.log_alpha_on(needs.last_on)),
        "alpha_percent_max": np.exp(lots.log_alpha_on(needs.first_on)),
        "hop_storage_index_max": _index(lots.log_resin_on(needs.last_on)),
        "moisture_percent_max": lots.moisture_percent,
        "oil_ml_per_100g_min": lots.oil_ml_per_100g,
    }


def _index(log_resin: Numbers) -> Numbers:
    left = np.where(np.isnan(log_resin), 0.0, np.minimum(log_resin, 0.0))
    found = [index_from_resin_loss(resin_loss_percent=float(-100 * np.expm1(one))) for one in left.tolist()]
    return np.where(np.isnan(log_resin), np.nan, np.array(found, dtype=float))


def _currency(request: Request, order: CombinationOrder, lots: LotColumns, places: Places) -> str | None:
    """In which currency prices are added up: the one named, or the only one there is."""
    named = order.currency or request.currency
    limited = request.price_per_kg_max is not None or request.price_per_kg_alpha_max is not None
    if named is not None or not (order.aim == "cheapest" or limited):
        return named
    priced = {lots.currency[p] for p in places.tolist() if not np.isnan(lots.price_per_kg[p])}
    if len(priced) > 1:
        told = ", ".join(sorted(c or "" for c in priced))
        text = f"the lots are priced in {told}, which cannot be added up; name one"
        raise InvalidRequest(text, errors=[{"pointer": "#/currency", "detail": text}])
    return next(iter(priced), None)


def _usable(
    request: Request,
    order: CombinationOrder,
    ranking: Ranking,
    places: Places,
    values: dict[str, Numbers],
    currency: str | None,
) -> tuple[Flags, tuple[str, ...]]:
    """Which lots can be part of the program, and how many cannot for which reason."""
    lots, said = ranking.lots, []
    needed = ranking.needs.needed_kg[places]
    kept: Flags = ~np.isnan(needed) & (needed > 0) & (needed < MOST_KG)

    def leave_out(which: Flags, words: str) -> None:
        nonlocal kept
        count = int((kept & which).sum())
        if count:
            said.append(f"{count} {'lot' if count == 1 else 'lots'} {words}")
        kept = kept & ~which

    for name, column in values.items():
        if getattr(request, name) is not None:
            leave_out(np.isnan(column[places]), f"left out: {name} is a limit and was never measured there")
    agreed = np.isnan(lots.price_per_kg[places])
    other = ~agreed & np.array([lots.currency[p] != currency for p in places.tolist()], dtype=np.bool_)
    priced = request.price_per_kg_max is not None or request.price_per_kg_alpha_max is not None
    if order.aim == "cheapest":
        leave_out(agreed, "left out: the price is by agreement, so nobody can tell what they cost")
    if order.aim == "cheapest" or priced:
        leave_out(other, f"left out: priced in another currency than {currency}")
    if request.price_per_kg_alpha_max is not None:
        unknown = np.isnan(values["alpha_percent_min"][places])
        leave_out(unknown, "left out: a price per kg of alpha is a limit and alpha was never measured there")
    return kept, tuple(said)


def _mix(
    request: Request,
    order: CombinationOrder,
    ranking: Ranking,
    places: Places,
    values: dict[str, Numbers],
) -> Mix:
    lots = ranking.lots
    free = np.array([float(exact_kg(kg)) for kg in lots.free_kg[places].tolist()])
    order_kg = np.where(np.isnan(lots.order_kg_min[places]), GRAM, lots.order_kg_min[places])
    needed = ranking.needs.needed_kg[places]
    score = ranking.scores.score[places]
    parcel = order.parcel_kg_min if order.parcel_kg_min is not None else request.parcel_kg_min
    lots_max = order.lots_max if order.lots_max is not None else request.lots_max
    cost = lots.price_per_kg[places] if order.aim == "cheapest" else (1 - score) / needed
    km = lots.distance_km[places]
    return Mix(
        needed_kg=needed,
        free_kg=free,
        order_kg=np.minimum(order_kg, free),
        cost=cost,
        beyond_km=np.zeros(len(km)) if request.within_km is None else km - request.within_km,
        limits=_limits(request, lots, places, values),
        packages=_packages(lots, places, free),
        lots_max=len(places) if lots_max is None else min(lots_max, len(places)),
        parcel_kg=min(float(parcel or GRAM), float(needed.max())),
    )


def _limits(
    request: Request, lots: LotColumns, places: Places, values: dict[str, Numbers]
) -> Sequence[MixLimit]:
    ones: Numbers = np.ones(len(places))
    found = [
        MixLimit(
            name=name,
            wanted=float(wanted),
            is_upper=name.endswith("_max"),
            over=column[places],
            under=ones,
        )
        for name, column in values.items()
        if (wanted := getattr(request, name)) is not None
    ]
    price = np.nan_to_num(lots.price_per_kg[places], nan=0.0)
    priced = (~np.isnan(lots.price_per_kg[places])).astype(float)
    unders = {"price_per_kg_max": ones, "price_per_kg_alpha_max": values["alpha_percent_min"][places] / 100}
    for name, under in unders.items():
        most: Decimal | None = getattr(request, name)
        if most is not None:
            # A price by agreement neither passes nor fails: its kilograms count on neither side.
            found.append(
                MixLimit(name=name, wanted=float(most), is_upper=True, over=price, under=under * priced)
            )
    return found


def _packages(lots: LotColumns, places: Places, free: Numbers) -> dict[int, tuple[tuple[float, int], ...]]:
    sold = {
        at: lots.packages[place]
        for at, place in enumerate(places.tolist())
        if lots.sold_in[place] == "whole_packages" and place in lots.packages
    }
    return {
        at: tuple(
            (float(p.net_kg), min(p.count, int((free[at] + 1e-9) // float(p.net_kg)))) for p in packages
        )
        for at, packages in sold.items()
    }


def price_of(lots: LotColumns, place: int) -> Decimal | None:
    """A lot's price as it was given."""
    price = number(lots.price_per_kg[place])
    return None if price is None else Decimal(repr(price))
