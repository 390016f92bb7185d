"""What the search keeps of a listed lot, and the estimates it gives on a day."""

import math
from datetime import date

from service.market.lab_reports import Measured, standing_figures
from service.market.lots import Lot
from service.market.search import SearchFigures
from service.market.storage_rates import Exponent, acid_after, exponent_over, index_after, sd_log, spell_rate
from service.reference.six_month_storage import SixMonthLoss, six_month_loss
from service.science.storage_index import index_from_resin_loss, resin_loss_percent
from service.science.uncertainty import Estimate


def search_figures(lot: Lot, *, loss: SixMonthLoss) -> SearchFigures:
    """What the search keeps of a lot; the day is the later of the sampling and the open spell's beginning."""
    figures = standing_figures(lot.reports)
    alpha, index, oil = figures.alpha_percent, figures.hop_storage_index, figures.oil_ml_per_100g
    moisture = figures.moisture_percent
    plain = SearchFigures(
        alpha_method=alpha.method if alpha else None,
        oil_ml_per_100g=oil.value if oil else None,
        moisture_percent=moisture.value if moisture else None,
    )
    sampled = [m.sampled_on for m in (alpha, index) if m is not None]
    if not sampled or not lot.spells or lot.form == "wet_hop":
        return plain
    day = max(*sampled, lot.spells[-1].began_on)
    rate = spell_rate(lot.spells[-1], loss=loss, form=lot.form)

    def gone(figure: Measured) -> Exponent:
        return exponent_over(lot.spells, since=figure.sampled_on, until=day, loss=loss, form=lot.form)

    before = gone(alpha or index)  # type: ignore[arg-type]  # one of them is there, see `sampled`
    left = 1 - resin_loss_percent(hop_storage_index=index.value) / 100 if index else 0.0
    return SearchFigures(
        day=day.toordinal(),
        log_alpha=math.log(alpha.value) - gone(alpha).value if alpha and alpha.value > 0 else None,
        alpha_sd_log=sd_log(alpha, name="alpha_percent", form=lot.form) if alpha else None,
        log_resin=math.log(left) - gone(index).value if index and left > 0 else None,
        index_sd_log=sd_log(index, name="hop_storage_index", form=lot.form) if index else None,
        rate_per_day=rate.per_day,
        rate_low_per_day=rate.low_per_day,
        rate_high_per_day=rate.high_per_day,
        spread_low=before.value - before.low,
        spread_high=before.high - before.value,
        alpha_method=plain.alpha_method,
        oil_ml_per_100g=plain.oil_ml_per_100g,
        moisture_percent=plain.moisture_percent,
    )


def figures_to_keep(lot: Lot) -> SearchFigures | None:
    """What the search keeps of a lot: nothing unless it is listed."""
    return search_figures(lot, loss=six_month_loss(lot.cultivar)) if lot.state == "listed" else None


def _since(figures: SearchFigures, on: date) -> Exponent:
    if figures.day is None or figures.rate_per_day is None:
        raise ValueError("these figures keep no day to start from")
    days = on.toordinal() - figures.day
    value = figures.rate_per_day * days
    return Exponent(
        value,
        (figures.rate_low_per_day or 0.0) * days - (figures.spread_low or 0.0),
        (figures.rate_high_per_day or 0.0) * days + (figures.spread_high or 0.0),
    )


def alpha_on(figures: SearchFigures, on: date) -> Estimate | None:
    """The alpha of a listed lot on a day, from what the search keeps."""
    if figures.log_alpha is None:
        return None
    return acid_after(math.exp(figures.log_alpha), _since(figures, on), figures.alpha_sd_log or 0.0)


def index_on(figures: SearchFigures, on: date) -> Estimate | None:
    """The Hop Storage Index of a listed lot on a day, from what the search keeps."""
    if figures.log_resin is None:
        return None
    index = index_from_resin_loss(resin_loss_percent=100 * -math.expm1(figures.log_resin))
    return index_after(index, _since(figures, on), figures.index_sd_log or 0.0)


def log_resin_limit(index_max: float) -> float:
    """What the logarithm of the remaining share must reach for an index limit; minus infinity is no limit."""
    left = 1 - resin_loss_percent(hop_storage_index=index_max) / 100
    return math.log(left) if left > 0 else -math.inf
