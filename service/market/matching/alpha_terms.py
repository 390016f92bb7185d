"""What a request's terms of price and mass ask of a lot's alpha.

A price per kilogram of alpha and a need for alpha become the least and the most alpha a lot may have, so
that one distribution answers for them and for the limits on alpha. Whole packages are judged at the
estimate alone.
"""

import numpy as np

from service.facts import Fact
from service.market.matching.candidates import LotColumns, number
from service.market.matching.needs import Needs
from service.market.matching.requests import Request


class AlphaTerms(Fact, frozen=True, kw_only=True):
    """The least and the most alpha on the last day needed with which a lot keeps its terms; None where any will do."""

    at_least_percent: float | None = None
    at_most_percent: float | None = None


NO_TERMS = AlphaTerms()


def alpha_terms(request: Request, lots: LotColumns, needs: Needs, place: int) -> AlphaTerms:
    """Turn the terms of one lot into bounds on its alpha; whole packages are judged at the estimate alone.

    A price for a kilogram of alpha is kept from an alpha on. Where alpha is wanted, a weaker lot must give more, and
    may not have it; a stronger one gives less, and may come under its grower's smallest order.
    """
    alpha_percent = number(np.exp(lots.log_alpha_on(needs.last_on)[place]))
    if alpha_percent is None:
        return NO_TERMS
    least = [_for_the_price(request, lots, place)]
    most = None
    by_alpha_kg = float(needs.needed_kg[place]) - needs.by_mass_kg
    if request.wants_alpha and by_alpha_kg > 0:

        def giving(mass_kg: float) -> float | None:
            """The alpha at which the need comes to a mass."""
            left_kg = mass_kg - needs.by_mass_kg
            return alpha_percent * by_alpha_kg / left_kg if left_kg > 0 else None

        free_kg = float(lots.free_kg[place])
        if needs.must_give_all or free_kg < float(request.parcel_kg_min or 0):
            least.append(giving(free_kg))
        order_kg_min = number(lots.order_kg_min[place])
        most = None if order_kg_min is None else giving(min(order_kg_min, free_kg))
    known = [bound for bound in least if bound is not None]
    return AlphaTerms(at_least_percent=max(known, default=None), at_most_percent=most)


def _for_the_price(request: Request, lots: LotColumns, place: int) -> float | None:
    price = number(lots.price_per_kg[place])
    limit = request.price_per_kg_alpha_max
    if limit is None or limit <= 0 or price is None or lots.currency[place] != request.currency:
        return None
    return 100 * price / float(limit)
