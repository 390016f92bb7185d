"""How fast a lot loses acids in store: the exponent over its spells, and the interval around it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.market.lab_reports import Measured
from service.market.lots import PELLETS, StorageSpell
from service.reference.assumptions import get_assumption, sampling_cv
from service.reference.methods import find_method
from service.reference.packings import packing_used
from service.reference.six_month_storage import SixMonthLoss
from service.science.storage import loss_rate_per_day, rate_per_day, temperature_factor
from service.science.storage_index import index_from_resin_loss, resin_loss_percent
from service.science.uncertainty import Estimate

# The 95th percentile of a normal deviate.
Z95 = 1.6448536269514722
# Over this the published temperature rule does not reach.
MODEL_TO_C = 20.0


@dataclass(frozen=True, slots=True)
class Rate:
    """A storage rate with its interval, 1/day."""

    per_day: float
    low_per_day: float
    high_per_day: float


@dataclass(frozen=True, slots=True)
class Exponent:
    """A storage exponent, rate times days added up over spells, with its interval."""

    value: float = 0.0
    low: float = 0.0
    high: float = 0.0


def spell_rate(spell: StorageSpell, *, loss: SixMonthLoss, form: str) -> Rate:
    """The rate in one spell; each source of doubt as a ratio, their logarithms added in quadrature."""
    packing = packing_used(spell.packing, residual_oxygen_percent=spell.residual_oxygen_percent).packing
    rate = loss_rate_per_day(
        lost_6_months_percent=loss.lost_percent,
        temperature_c=spell.stored_at_c,
        packing_factor=packing.factor,
    )
    plain = rate_per_day(lost_6_months_percent=loss.lost_percent)
    lot = get_assumption("storage_rate_spread_ratio")
    warmer = temperature_factor(
        temperature_c=MODEL_TO_C + get_assumption("storage_temperature_spread_c").high
    )
    lows = [
        rate_per_day(lost_6_months_percent=loss.low_percent) / plain,
        packing.low / packing.factor,
        lot.low,
        1 / warmer,
    ]
    highs = [
        rate_per_day(lost_6_months_percent=loss.high_percent) / plain,
        packing.high / packing.factor,
        lot.high,
        warmer,
    ]
    if spell.stored_at_c > MODEL_TO_C:
        hot = get_assumption("above_20_c_rate_ratio")
        lows.append(hot.low)
        highs.append(hot.high)
    if form in PELLETS:
        lows.append(get_assumption("pellet_rate_ratio").low)
    return Rate(
        per_day=rate,
        low_per_day=rate * math.exp(-_root_of_squares(lows)),
        high_per_day=rate * math.exp(_root_of_squares(highs)),
    )


def _root_of_squares(ratios: Sequence[float]) -> float:
    return math.sqrt(sum(math.log(ratio) ** 2 for ratio in ratios))


def exponent_over(
    spells: Sequence[StorageSpell], *, since: date, until: date, loss: SixMonthLoss, form: str
) -> Exponent:
    """Add rate times days over the spells between two days.

    The part of the doubt that all spells share is not averaged away: lows add to lows, highs to highs.
    """
    value = low = high = 0.0
    for spell, ends in zip(spells, [*(s.began_on for s in spells[1:]), until], strict=True):
        days = (min(ends, until) - max(spell.began_on, since)).days
        if days > 0:
            rate = spell_rate(spell, loss=loss, form=form)
            value += rate.per_day * days
            low += rate.low_per_day * days
            high += rate.high_per_day * days
    return Exponent(value, low, high)


def with_ends(spells: Sequence[StorageSpell], until: date) -> list[tuple[StorageSpell, date]]:
    """Each spell with the day it ends on; the open one ends on the day asked for."""
    return list(zip(spells, [*(s.began_on for s in spells[1:]), until], strict=True))


def sd_log(figure: Measured, *, name: str, form: str) -> float:
    """The doubt of a figure: its laboratory's own statement or the method's, and who cored how many packages."""
    quantity = {"alpha_percent": "alpha", "beta_percent": "beta", "oil_ml_per_100g": "oil"}.get(name, name)
    method = find_method(figure.method or "other", group=_GROUPS[name])
    between = (method.between_laboratory_cv_percent if method else 8.0) / 100
    if figure.stated_sd is not None and figure.value > 0:
        between = figure.stated_sd / figure.value
    scatter = sampling_cv(quantity=quantity.removesuffix("_percent"), form=form).value / 100
    cored = figure.packages_cored or int(get_assumption("packages_cored_default").value)
    return math.hypot(math.log1p(between), math.log1p(scatter) / math.sqrt(cored))


_GROUPS = {
    "alpha_percent": "alpha_beta",
    "beta_percent": "alpha_beta",
    "hop_storage_index": "hop_storage_index",
    "oil_ml_per_100g": "oil",
    "moisture_percent": "moisture",
}


def acid_after(value_percent: float, gone: Exponent, sd: float) -> Estimate:
    """An acid after storage; the doubts of laboratory and rate are added in quadrature in the logarithm."""
    measured = Z95 * sd
    return Estimate(
        estimate=value_percent * math.exp(-gone.value),
        low=value_percent * math.exp(-gone.value - math.hypot(measured, gone.high - gone.value)),
        high=min(100.0, value_percent * math.exp(-gone.value + math.hypot(measured, gone.value - gone.low))),
    )


def loss_after(gone: Exponent) -> Estimate:
    """The share lost since the sampling; never negative."""
    return Estimate(
        estimate=-100 * math.expm1(-gone.value),
        low=-100 * math.expm1(-gone.low),
        high=-100 * math.expm1(-gone.high),
    )


def index_after(index: float, gone: Exponent, sd: float) -> Estimate | None:
    """The Hop Storage Index after storage, from the measured one unclamped; None once nothing is left to lose."""
    left = 1 - resin_loss_percent(hop_storage_index=index) / 100
    if left <= 0:
        return None
    middle, lowest, highest = (_index_at(left, x) for x in (gone.value, gone.low, gone.high))
    measured = Z95 * sd
    return Estimate(
        estimate=middle,
        low=middle * math.exp(-math.hypot(measured, math.log(middle / lowest))),
        high=min(INDEX_AT_THE_END, middle * math.exp(math.hypot(measured, math.log(highest / middle)))),
    )


# Where the published formula has lost everything.
INDEX_AT_THE_END = index_from_resin_loss(resin_loss_percent=100.0)


def _index_at(left: float, exponent: float) -> float:
    return index_from_resin_loss(resin_loss_percent=100 * (1 - left * math.exp(-exponent)))
