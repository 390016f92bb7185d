"""The alpha acids that a promise brings on the day its request needs them."""

from datetime import date
from decimal import Decimal

from service.market.lots import Lot
from service.market.requests import Request
from service.market.search_figures import alpha_on, search_figures
from service.reference.six_month_storage import six_month_loss


def alpha_promised_kg(lot: Lot, request: Request | None, mass_kg: Decimal, *, today: date) -> float | None:
    """Alpha acids in a mass of a lot, estimated for the last day its request needs it; None while none was measured."""
    figures = search_figures(lot, loss=six_month_loss(lot.cultivar))
    alpha = alpha_on(figures, max(today, request.last_needed_on) if request else today)
    return None if alpha is None else float(mass_kg) * alpha.estimate / 100
