"""Limits that a lot's own terms set: what is free, the smallest order, whole packages.

The change that each names is one of the need alone, and makes no other of them fail.
"""

from collections.abc import Callable, Iterator
from decimal import ROUND_HALF_EVEN

import numpy as np

from service.market.goods.stock import nearest_in_packages
from service.market.matching.candidates import Floats, LotColumns
from service.market.matching.limit_facts import Limit, written
from service.market.matching.needs import Needs, exact_kg
from service.market.matching.requests import Request
from service.science.arrays import Flags


def mass_limits(request: Request, lots: LotColumns, needs: Needs) -> Iterator[Limit]:
    """The limits on how much of a lot can be had."""
    if request.wants_alpha:
        yield Limit(
            name="alpha_kg",
            wanted=lambda place: round(request.alpha_kg, 3),
            holds=needs.is_known,
            off=np.where(needs.is_known, 0.0, np.inf),
            found=lambda place: None,
            change=lambda place: "a laboratory figure of alpha",
        )
    known = needs.is_known
    least = np.where(known, needs.needed_kg, 0.0)
    if not needs.must_give_all:
        least = np.fmin(least, float(request.parcel_kg_min or 0))
    enough = (lots.free_kg > 0) & (lots.free_kg >= least)

    def less(place: int) -> str:
        if not lots.free_kg[place] > 0:
            return "something of it free again"
        free = _kg(lots.free_kg[place])
        return f"a need of {free} kg or less" if needs.must_give_all else f"parcel_kg_min {free}"

    yield _mass_limit("free_kg", least, lots.free_kg, enough, less)
    parcel = np.where(known, needs.parcel_kg, lots.free_kg)
    smallest = np.where(np.isnan(lots.order_kg_min), 0.0, lots.order_kg_min)
    yield _mass_limit(
        "order_kg_min",
        parcel,
        smallest,
        (parcel >= np.fmin(smallest, lots.free_kg)) | ~enough | (parcel <= 0),
        lambda place: f"an order of {_kg(_next_parcel_kg(lots, place, least=smallest[place]))} kg or more",
    )
    yield _package_limit(
        request, lots, needs, enough, np.fmax(smallest, np.where(known, needs.needed_kg, 0.0))
    )


def _next_parcel_kg(lots: LotColumns, place: int, *, least: float) -> float:
    """The smallest parcel in which a lot is sold that is not under a mass; the whole rest is always sold."""
    free = float(lots.free_kg[place])
    wanted = min(float(least), free)
    packages = lots.packages.get(place)
    if not packages or lots.sold_in[place] != "whole_packages":
        return wanted
    above = nearest_in_packages(packages, exact_kg(wanted), free_kg=exact_kg(free)).above_kg
    return free if above is None else float(above)


def _kg(mass_kg: float) -> str:
    return written(float(mass_kg), ROUND_HALF_EVEN, "0.001")


def _mass_limit(
    name: str, wanted: Floats, found: Floats, holds: Flags, change: Callable[[int], str]
) -> Limit:
    return Limit(
        name=name,
        wanted=lambda place: round(float(wanted[place]), 3),
        holds=holds,
        off=np.where(holds, 0.0, np.abs(found - wanted) / np.where(wanted > 0, wanted, 1.0)),
        found=lambda place: round(float(found[place]), 3),
        change=change,
    )


def _package_limit(request: Request, lots: LotColumns, needs: Needs, enough: Flags, least: Floats) -> Limit:
    holds = np.ones(len(lots), dtype=np.bool_)
    above = np.zeros(len(lots))
    below, needed = needs.parcel_kg[needs.packed], needs.needed_kg[needs.packed]
    short = below < needed if needs.must_give_all else below <= 0
    small = below < np.minimum(float(request.parcel_kg_min or 0), needed)
    holds[needs.packed] = ~(enough[needs.packed] & (short | small))
    for place in np.flatnonzero(~holds).tolist():
        above[place] = _next_parcel_kg(lots, place, least=least[place])
    wanted = np.where(needs.is_known, np.fmin(needs.needed_kg, lots.free_kg), 0.0)
    return _mass_limit(
        "whole_packages", wanted, above, holds, lambda place: _package_words(lots, place, above)
    )


def _package_words(lots: LotColumns, place: int, above: Floats) -> str:
    whole = above[place] == lots.free_kg[place]
    return f"{_kg(above[place])} kg{', all that is free' if whole else ' in whole packages'}"
