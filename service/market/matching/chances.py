"""How likely it is that every limit holds on the day, from the intervals of the figures."""

import math
from collections.abc import Callable
from datetime import date

from service.market.goods.lab_reports import Figures, Measured
from service.market.matching.alpha_terms import NO_TERMS, AlphaTerms
from service.market.matching.requests import Request
from service.market.matching.search import SearchFigures
from service.market.matching.search_figures import alpha_on, index_on
from service.market.storage.storage_rates import sd_log
from service.science.uncertainty import NORMAL_95TH, Estimate

NARROWEST_SD_LOG = 1e-9


def chance_all_limits_met(
    request: Request,
    figures: SearchFigures,
    *,
    measured: Figures,
    form: str,
    first_on: date,
    last_on: date,
    terms: AlphaTerms = NO_TERMS,
    last_figures: SearchFigures | None = None,
) -> float:
    """The chance that the limits on measured figures all hold, taken as independent of each other.

    Each figure is taken as lognormal, with its interval's lower and upper half-width for the two sides. Terms of
    price and mass count by what they ask of alpha; words and distance hold for certain or not at all and are
    judged elsewhere. `last_figures` are those of the last day, if it finds the lot in another store.
    """
    chance = 1.0
    later = last_figures or figures
    alpha_last, alpha_first = alpha_on(later, last_on), alpha_on(figures, first_on)
    index = index_on(later, last_on)
    least = _tighter(max, request.alpha_percent_min, terms.at_least_percent)
    if alpha_last and alpha_first and first_on == last_on:
        most = _tighter(min, request.alpha_percent_max, terms.at_most_percent)
        chance *= _within(alpha_last, least, most)
    elif alpha_last and alpha_first:
        chance *= _within(alpha_last, least, terms.at_most_percent)
        chance *= _within(alpha_first, None, request.alpha_percent_max)
    if index:
        chance *= _within(index, None, request.hop_storage_index_max)
    moisture = _spread(measured.moisture_percent, "moisture_percent", form)
    if moisture:
        chance *= _within(moisture, None, request.moisture_percent_max)
    oil = _spread(measured.oil_ml_per_100g, "oil_ml_per_100g", form)
    if oil:
        chance *= _within(oil, request.oil_ml_per_100g_min, None)
    return round(min(1.0, max(0.0, chance)), 4)


def chance_under(figure: Estimate, limit: float) -> float:
    """The chance that a figure lies under a limit.

    >>> chance_under(Estimate(10.0, 9.0, 11.0), 10.0)
    0.5
    >>> chance_under(Estimate(10.0, 9.0, 11.0), 11.0)
    0.95

    """
    if limit <= 0 or figure.estimate <= 0:
        return 0.0 if limit <= 0 else 1.0
    far = math.log(limit / figure.estimate)
    edge = figure.high if far > 0 else figure.low
    reach = abs(math.log(edge / figure.estimate)) if edge > 0 else math.inf
    deviate = far / max(reach / NORMAL_95TH, NARROWEST_SD_LOG)
    return 0.5 * (1 + math.erf(deviate / math.sqrt(2)))


def _tighter(which: Callable[[float, float], float], one: float | None, other: float | None) -> float | None:
    if one is None or other is None:
        return other if one is None else one
    return which(one, other)


def _within(figure: Estimate, low: float | None, high: float | None) -> float:
    under_high = 1.0 if high is None else chance_under(figure, high)
    under_low = 0.0 if low is None else chance_under(figure, low)
    return max(0.0, under_high - under_low)


def _spread(figure: Measured | None, name: str, form: str) -> Estimate | None:
    if figure is None or figure.value <= 0:
        return None
    reach = math.exp(NORMAL_95TH * sd_log(figure, name=name, form=form))
    return Estimate(figure.value, figure.value / reach, figure.value * reach)
