"""Lots that together meet a request: the columns, the limits on the mix, and what a mix breaks.

Each lot gives nothing or a parcel: at least its smallest order and the request's smallest parcel, at most what is
free, in whole packages where it is sold so. A limit on a figure holds for the mix, by the mass of the parcels.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from service.facts import Fact
from service.science.arrays import Numbers

# A limit on the mix holds to the last digits of a sum, and to the gram of each parcel.
TOLERANCE = 1e-6
GRAM = 0.001
NEED, LOTS, PARCEL, DISTANCE = "need", "lots_max", "parcel_kg_min", "within_km"


class MixLimit(Fact, frozen=True, kw_only=True):
    """A limit on the mix: the sum of `over` by mass, divided by that of `under`, is at most or at least `wanted`."""

    name: str
    wanted: float
    is_upper: bool
    over: Numbers
    under: Numbers

    @property
    def coefficients(self) -> Numbers:
        """What a kilogram of each lot adds to the wrong side."""
        wrong: Numbers = self.over - self.wanted * self.under
        return wrong if self.is_upper else -wrong

    def found(self, mass_kg: Numbers) -> float:
        """What a mix has."""
        under = float(self.under @ mass_kg)
        return float(self.over @ mass_kg) / under if under > 0 else 0.0


class Mix(Fact, frozen=True, kw_only=True):
    """The columns: one place a lot. `needed_kg` is what would meet the request from that lot alone."""

    needed_kg: Numbers
    free_kg: Numbers
    order_kg: Numbers
    cost: Numbers
    beyond_km: Numbers
    limits: Sequence[MixLimit]
    packages: Mapping[int, Sequence[tuple[float, int]]]
    lots_max: int
    parcel_kg: float

    @property
    def names(self) -> tuple[str, ...]:
        """Everything that can be let go, in the order of its slack."""
        return (NEED, *(limit.name for limit in self.limits), LOTS, PARCEL, DISTANCE)

    @property
    def usual_kg(self) -> float:
        """A mass of the size that is wanted."""
        return float(np.median(self.needed_kg))


def breaks(mix: Mix, mass_kg: Numbers, *, grams_kg: float = GRAM) -> dict[str, float]:
    """What a mix breaks, with what it has instead; reckoned from the masses alone.

    A limit on the mix is kept when so much more or less of each parcel would keep it.
    """
    found: dict[str, float] = {}
    takes = mass_kg > 0
    covered = float((mass_kg / mix.needed_kg).sum())
    if covered < 1 - TOLERANCE:
        found[NEED] = covered
    for limit in mix.limits if takes.any() else ():
        wrong = float(limit.coefficients @ mass_kg)
        last_grams = grams_kg * float(np.abs(limit.coefficients[takes]).sum())
        if wrong > last_grams + TOLERANCE * max(abs(limit.wanted), 1e-3) * float(limit.under @ mass_kg):
            found[limit.name] = limit.found(mass_kg)
    if takes.sum() > mix.lots_max:
        found[LOTS] = float(takes.sum())
    smallest = float(mass_kg[takes].min()) if takes.any() else np.inf
    if smallest < mix.parcel_kg - TOLERANCE:
        found[PARCEL] = smallest
    if (takes & (mix.beyond_km > 0)).any():
        found[DISTANCE] = float(mix.beyond_km[takes].max())
    return found
