"""How likely it is that every limit holds on the day, from the intervals of the figures."""

import math
from collections.abc import Callable
from datetime import date
from statistics import NormalDist

import numpy as np

from service.market.goods.lab_reports import Figures, Measured
from service.market.matching.alpha_terms import NO_TERMS, AlphaTerms
from service.market.matching.requests import Request
from service.market.matching.search import SearchFigures
from service.market.matching.search_figures import index_and_exponent
from service.market.storage.storage_rates import INDEX_AT_THE_END, sd_log
from service.science.arrays import Numbers
from service.science.storage_index_curves import index_after_storage_curve
from service.science.uncertainty import NORMAL_95TH, Estimate

NARROWEST_SD_LOG = 1e-9
SQRT_2 = math.sqrt(2)
# Standard normal deviates of equal weight. With so many the average is within 0.004 of the integral, however sharp.
QUANTILES: Numbers = np.array([NormalDist().inv_cdf((place + 0.5) / 128) for place in range(128)])


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
    """The chance that the limits on measured figures all hold.

    Alpha on the first and the last day and the Hop Storage Index all hang on how fast the lot loses acids. The chance is
    therefore worked out for each of many storage exponents, from the slowest loss to the fastest, and averaged: for one
    exponent only the scatter of laboratory and sample is left, and that of alpha and of the index are independent.
    Moisture and oil are independent of both. Terms of price and mass count by what they ask of alpha; forms, words and
    distance hold for certain or not at all and are judged elsewhere. `last_figures` are those of the last day, if it
    finds the lot in another store.
    """
    later = last_figures or figures
    least = _tighter(max, request.alpha_percent_min, terms.at_least_percent)
    storage = np.ones_like(QUANTILES)
    if figures.log_alpha is not None and later.log_alpha is not None:
        scatter = max(later.alpha_sd_log or 0.0, NARROWEST_SD_LOG)
        last = later.log_alpha - _exponents(later, last_on, later.spread_low, later.spread_high)
        first = figures.log_alpha - _exponents(figures, first_on, figures.spread_low, figures.spread_high)
        # The laboratory's error is one number: the tightest of the limits on it counts.
        highest = np.minimum(_room(terms.at_most_percent, last), _room(request.alpha_percent_max, first))
        lowest = -np.inf if least is None else _room(least, last)
        storage *= np.maximum(0.0, _normal_cdf(highest / scatter) - _normal_cdf(lowest / scatter))
    if later.log_resin is not None and request.hop_storage_index_max is not None:
        index, gone = index_and_exponent(later, last_on)
        if index < INDEX_AT_THE_END:
            scatter = (later.index_sd_log or 0.0) * math.exp(-gone.estimate)
            # `index` is from before the doubt about the time until the kept day, see `index_and_exponent`.
            earlier = later.index_spread_low or 0.0
            exponents = earlier + _exponents(later, last_on, earlier, later.index_spread_high)
            indices = index_after_storage_curve(hop_storage_index=index, log_loss=np.maximum(exponents, 0.0))
            room = _room(request.hop_storage_index_max, np.log(indices))
            storage *= _normal_cdf(room / max(scatter, NARROWEST_SD_LOG))
    chance = float(storage.mean())
    moisture = _spread(measured.moisture_percent, "moisture_percent", form)
    if moisture and request.moisture_percent_max is not None:
        chance *= chance_under(moisture, request.moisture_percent_max)
    oil = _spread(measured.oil_ml_per_100g, "oil_ml_per_100g", form)
    if oil and request.oil_ml_per_100g_min is not None:
        chance *= 1.0 - chance_under(oil, request.oil_ml_per_100g_min)
    return round(min(1.0, max(0.0, chance)), 4)


def _exponents(figures: SearchFigures, on: date, low: float | None, high: float | None) -> Numbers:
    """The exponent of storage loss up to a day at each of the quantiles of the rate.

    `low` and `high` are how far it may have been smaller or larger before the kept day. The rate is lognormal, so that
    no quantile gains acids with time.
    """
    above, deviates = QUANTILES > 0, QUANTILES / NORMAL_95TH
    before: Numbers = np.where(above, high or 0.0, low or 0.0) * deviates
    rate = figures.rate_per_day or 0.0
    if rate <= 0:
        return before
    slowest, fastest = max(figures.rate_low_per_day or 0.0, rate * 1e-6), figures.rate_high_per_day or rate
    rates = rate * np.exp(np.where(above, math.log(fastest / rate), math.log(rate / slowest)) * deviates)
    exponents: Numbers = before + rates * max(0, on.toordinal() - (figures.day or 0))
    return exponents


def _room(limit: float | None, logs: Numbers) -> Numbers:
    """How far a limit lies over figures, in natural logarithms; a missing limit lies over all."""
    if limit is None:
        return np.full_like(logs, np.inf)
    return (math.log(limit) if limit > 0 else -math.inf) - logs


def _normal_cdf(deviates: Numbers | float) -> Numbers:
    return np.array(
        [0.5 * (1 + math.erf(deviate / SQRT_2)) for deviate in np.broadcast_to(deviates, QUANTILES.shape)]
    )


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
    return 0.5 * (1 + math.erf(deviate / SQRT_2))


def _tighter(which: Callable[[float, float], float], one: float | None, other: float | None) -> float | None:
    if one is None or other is None:
        return other if one is None else one
    return which(one, other)


def _spread(figure: Measured | None, name: str, form: str) -> Estimate | None:
    if figure is None or figure.value <= 0:
        return None
    reach = math.exp(NORMAL_95TH * sd_log(figure, name=name, form=form))
    return Estimate(figure.value, figure.value / reach, figure.value * reach)
