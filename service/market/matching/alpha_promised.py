"""The alpha acids that a promise brings on the day its request needs them."""

from datetime import date
from decimal import Decimal

from service.market.goods.lots import Lot
from service.market.matching.brewery_storage import figures_on
from service.market.matching.requests import Request
from service.market.matching.search_figures import alpha_on


def alpha_promised_kg(lot: Lot, request: Request | None, mass_kg: Decimal, *, today: date) -> float | None:
    """Alpha acids in a mass of a lot, estimated for the last day its request needs it; None while none was measured."""
    on = max(today, request.last_needed_on) if request else today
    alpha = alpha_on(figures_on(lot, request, on, today=today), on)
    return None if alpha is None else float(mass_kg) * alpha.estimate / 100
