"""What the search keeps of a listed lot, and the estimates it gives on a day."""

import math
from datetime import date, timedelta

from service.facts import replace
from service.market.goods.lab_reports import Measured, standing_figures
from service.market.goods.lots import Lot
from service.market.goods.temperature_logs import logged_days
from service.market.matching.evidence import evidence_of
from service.market.matching.search import SearchFigures
from service.market.storage.storage_model import keeping_of
from service.market.storage.storage_rates import (
    INDEX_AT_THE_END,
    NOTHING_GONE,
    after_days,
    index_after,
    rate_of_form,
    sd_log,
)
from service.reference.six_month_storage import SixMonthLoss, six_month_loss
from service.science.storage_index import index_from_log_resin_left, log_resin_left
from service.science.storage_spread import alpha_left_estimate
from service.science.uncertainty import Estimate


def search_figures(lot: Lot, *, loss: SixMonthLoss) -> SearchFigures:
    """What the search keeps of a lot; the day is the latest of sampling, open spell and logger."""
    figures = standing_figures(lot.reports)
    alpha, index, oil = figures.alpha_percent, figures.hop_storage_index, figures.oil_ml_per_100g
    moisture, evidence = figures.moisture_percent, evidence_of(lot.reports)
    plain = SearchFigures(
        alpha_method=alpha.method if alpha else None,
        oil_ml_per_100g=oil.value if oil else None,
        moisture_percent=moisture.value if moisture else None,
        alpha_reports=evidence.reports or None,
        alpha_drawn_by=evidence.drawn_by,
        alpha_packages_cored=evidence.packages_cored,
        alpha_spread=evidence.alpha_spread,
    )
    sampled = [m.sampled_on for m in (alpha, index) if m is not None]
    if not sampled or not lot.spells or lot.form == "wet_hop":
        return plain
    # Up to here nothing is steady: before the sampling, in an earlier spell, or while a logger watched.
    day = max(*sampled, lot.spells[-1].began_on, *_after_loggers(lot))
    keeping = keeping_of(lot, loss=loss)
    rate, own = keeping.rate_in(lot.spells[-1]), keeping.learning.own

    def gone(figure: Measured | None) -> Estimate:
        if figure is None:
            return NOTHING_GONE
        return keeping.exponent(since=figure.sampled_on, until=day)

    of_alpha, of_index = gone(alpha), gone(index)
    kept_index = index if index and index.value < INDEX_AT_THE_END else None
    return replace(
        plain,
        day=day.toordinal(),
        log_alpha=math.log(alpha.value) - of_alpha.estimate if alpha and alpha.value > 0 else None,
        alpha_sd_log=sd_log(alpha, name="alpha_percent", form=lot.form) if alpha else None,
        log_resin=log_resin_left(hop_storage_index=kept_index.value) - of_index.estimate
        if kept_index
        else None,
        index_sd_log=(
            sd_log(kept_index, name="hop_storage_index", form=lot.form) * math.exp(-of_index.low)
            if kept_index
            else None
        ),
        rate_per_day=rate.estimate,
        rate_low_per_day=rate.low,
        rate_high_per_day=rate.high,
        base_rate_per_day=(own.elsewhere if own else rate_of_form(loss, lot.form)).estimate,
        learnt_rate_per_day=own.there.estimate if own else None,
        learnt_packings=",".join(own.packings) if own else None,
        spread_low=of_alpha.estimate - of_alpha.low,
        spread_high=of_alpha.high - of_alpha.estimate,
        index_spread_low=of_index.estimate - of_index.low,
        index_spread_high=of_index.high - of_index.estimate,
    )


def _after_loggers(lot: Lot) -> list[date]:
    watched = logged_days(lot.logs)
    return [max(watched) + timedelta(days=1)] if watched else []


def figures_to_keep(lot: Lot) -> SearchFigures | None:
    """What the search keeps of a lot: nothing unless it is listed."""
    return search_figures(lot, loss=six_month_loss(lot.cultivar)) if lot.state == "listed" else None


def _since(figures: SearchFigures, on: date, *, before: Estimate) -> Estimate:
    if figures.day is None or figures.rate_per_day is None:
        raise ValueError("these figures keep no day to start from")
    rate = Estimate(figures.rate_per_day, figures.rate_low_per_day or 0.0, figures.rate_high_per_day or 0.0)
    return after_days(before, rate, max(0, on.toordinal() - figures.day))


def index_and_exponent(figures: SearchFigures, on: date) -> tuple[float, Estimate]:
    """An index that storage carries to a day, and the exponent of storage loss between the two.

    The index is the lowest that may have held on the kept day, so that no exponent is negative.
    """
    least = figures.index_spread_low or 0.0
    before = Estimate(least, 0.0, least + (figures.index_spread_high or 0.0))
    index = index_from_log_resin_left(log_resin_left=(figures.log_resin or 0.0) + least)
    return index, _since(figures, on, before=before)


def alpha_on(figures: SearchFigures, on: date) -> Estimate | None:
    """The alpha of a listed lot on a day, from what the search keeps."""
    if figures.log_alpha is None:
        return None
    before = Estimate(0.0, -(figures.spread_low or 0.0), figures.spread_high or 0.0)
    return alpha_left_estimate(
        alpha_percent=math.exp(figures.log_alpha),
        alpha_sd_log=figures.alpha_sd_log or 0.0,
        log_loss=_since(figures, on, before=before),
    )


def index_on(figures: SearchFigures, on: date) -> Estimate | None:
    """The Hop Storage Index of a listed lot on a day, from what the search keeps."""
    if figures.log_resin is None:
        return None
    index, gone = index_and_exponent(figures, on)
    return index_after(index, gone, figures.index_sd_log or 0.0)
