"""How much of each lot a request would take: its need, and the parcel in which that lot is sold."""

from datetime import date
from decimal import ROUND_FLOOR, Decimal

import numpy as np

from service.facts import Fact
from service.market.goods.stock import most_in_packages_kg
from service.market.matching.brewery_storage import taken_on
from service.market.matching.candidates import Floats, LotColumns
from service.market.matching.requests import Delivery, Request
from service.science.arrays import Flags, Places

# A lot with next to no alpha would take more than there is of anything; the number stays a number.
MOST_KG = 1e9


class Needs(Fact, frozen=True, kw_only=True):
    """Column by column: the mass that would meet the request from this lot alone, and what it can give of it.

    `taken_on` is the day on which the goods change hands. `by_mass_kg` is the part of the need that is no matter of
    alpha. `needed_kg` is NaN where alpha is wanted and the lot's is not known. `packed` are the places of lots sold
    in whole packages of which not the whole rest is needed; their parcel is the most that these make.
    """

    first_on: date
    last_on: date
    taken_on: date
    by_mass_kg: float
    needed_kg: Floats
    parcel_kg: Floats
    must_give_all: bool
    packed: Places

    @property
    def is_known(self) -> Flags:
        """Whether the need can be told."""
        return ~np.isnan(self.needed_kg)


def needs_of(request: Request, lots: LotColumns, *, today: date) -> Needs:
    """Work out the need and the parcel of each lot."""
    due = [d for d in request.deliveries if d.needed_on >= today] or list(request.deliveries)
    needed = np.ceil(sum((_needed_kg(d, lots, today) for d in due), np.zeros(len(lots))) * 1000 - 1e-6) / 1000
    parcel = np.fmin(needed, lots.free_kg)
    sold_so = [place for place in lots.packages if lots.sold_in[place] == "whole_packages"]
    # The whole rest may always be taken, though a sample was drawn of its last package.
    packed = [place for place in sold_so if 0 < parcel[place] < lots.free_kg[place]]
    for place in packed:
        wanted, free = exact_kg(parcel[place]), exact_kg(lots.free_kg[place])
        parcel[place] = float(most_in_packages_kg(lots.packages[place], wanted, free_kg=free))
    last_on = max(today, max(d.needed_on for d in due))
    return Needs(
        first_on=max(today, min(d.needed_on for d in due)),
        last_on=last_on,
        taken_on=taken_on(request, last_on=last_on, today=today),
        by_mass_kg=float(sum(d.mass_kg or 0 for d in due)),
        needed_kg=needed,
        parcel_kg=parcel,
        must_give_all=request.lots_max == 1,
        packed=np.array(packed, dtype=np.int64),
    )


def exact_kg(mass_kg: float) -> Decimal:
    """A mass out of a column, exact to the gram again; never rounded up."""
    return Decimal(repr(float(mass_kg) + 0.0)).quantize(Decimal("0.001"), rounding=ROUND_FLOOR)


def _needed_kg(delivery: Delivery, lots: LotColumns, today: date) -> Floats:
    if delivery.mass_kg is not None:
        return np.full(len(lots), float(delivery.mass_kg))
    alpha_kg = delivery.alpha_kg_needed or 0.0
    with np.errstate(over="ignore", divide="ignore"):
        needed = alpha_kg * 100 / np.exp(lots.log_alpha_on(max(today, delivery.needed_on)))
    return np.minimum(needed, MOST_KG)
