"""How fast a lot loses acids in store: the exponent over its spells, and the interval around it."""

import math
from collections.abc import Mapping, Sequence
from datetime import date

from service.facts import Fact
from service.market.goods.lab_reports import Measured
from service.market.goods.lots import PELLETS, StorageSpell
from service.market.goods.temperature_logs import NOTHING_LOGGED, LoggedDay
from service.reference.assumptions import get_assumption, sampling_cv
from service.reference.methods import find_method, get_method
from service.reference.packings import packing_used
from service.reference.six_month_storage import SixMonthLoss
from service.science.storage import (
    COLDEST_C,
    HALVING_C,
    HOTTEST_C,
    REFERENCE_C,
    Spell,
    temperature_factor,
)
from service.science.storage_index import BASELINE_INDEX, index_from_resin_loss
from service.science.storage_index_spread import index_after_storage_estimate
from service.science.storage_spread import Ratio, log_loss_estimate, rate_estimate_per_day
from service.science.uncertainty import Estimate, combine_sd_log, sampling_sd_log, sd_log_from_cv

# Over this the published temperature rule does not reach.
MODEL_TO_C = 20.0
# Where the published formula has lost everything.
INDEX_AT_THE_END = index_from_resin_loss(resin_loss_percent=100.0)
NOTHING_GONE = Estimate(0.0, 0.0, 0.0)


class OwnRate(Fact, frozen=True, kw_only=True):
    """A lot's own rate of loss, learnt from its repeat analyses; 1/day at 20 °C, unprotected.

    In the packings it was learnt in, rate and packing are known together; elsewhere only the lot's part of it is.
    """

    packings: tuple[str, ...]
    there: Estimate
    elsewhere: Estimate


def spell_rate(
    spell: StorageSpell,
    *,
    loss: SixMonthLoss,
    form: str,
    ratios: Sequence[Ratio] = (),
    own: OwnRate | None = None,
) -> Estimate:
    """The rate in one spell with its interval, 1/day; `ratios` are further doubts about it."""
    doubts = [*ratios, _temperature_doubt("storage_temperature_spread_c")]
    return _exponent(spell, days=1.0, temperature_c=spell.stored_at_c, doubts=doubts, of=(loss, form, own))


def exponent_over(
    spells: Sequence[StorageSpell],
    *,
    since: date,
    until: date,
    loss: SixMonthLoss,
    form: str,
    ratios: Sequence[Ratio] = (),
    own: OwnRate | None = None,
    logged: Mapping[date, LoggedDay] = NOTHING_LOGGED,
) -> Estimate:
    """The exponent of storage loss over the spells between two days, however far the later one is.

    Where a logger covers, its temperatures count; elsewhere that of the spell. The part of the doubt that all spells
    share is not averaged away: lows add to lows, highs to highs.
    """
    gone = NOTHING_GONE
    for spell, ends in with_ends(spells, until):
        first, last = max(spell.began_on, since), min(ends, until)
        days = (last - first).days
        if days <= 0:
            continue
        seen = logged_between(logged, first, last)
        if seen.covered_days > 0:
            gone = after_days(gone, _logged_exponent(spell, seen, ratios, (loss, form, own)), 1.0)
        stated_days = days - seen.covered_days
        gone = after_days(gone, spell_rate(spell, loss=loss, form=form, ratios=ratios, own=own), stated_days)
    return gone


class Logged(Fact, frozen=True, kw_only=True):
    """What loggers saw in a stretch of time."""

    covered_days: float
    effective_days_at_20_c: float
    effective_days_above_20_c: float

    def spell(self, factor: float, low: float, high: float) -> Spell:
        """The whole of it as one spell that costs exactly as much, in a packing with its interval."""
        equivalent_c = REFERENCE_C + HALVING_C * math.log2(self.effective_days_at_20_c / self.covered_days)
        return Spell(
            self.covered_days,
            # Rounding may carry a store at the very edge of the range over it.
            min(max(equivalent_c, COLDEST_C), HOTTEST_C),
            factor,
            low,
            high,
            min(1.0, self.effective_days_above_20_c / self.effective_days_at_20_c),
        )


def logged_between(logged: Mapping[date, LoggedDay], first: date, last: date) -> Logged:
    """What loggers saw from a day on until before another."""
    days = [day for on, day in logged.items() if first <= on < last]
    return Logged(
        covered_days=sum(day.covered_fraction for day in days),
        effective_days_at_20_c=sum(day.effective_days_at_20_c for day in days),
        effective_days_above_20_c=sum(day.effective_days_above_20_c for day in days),
    )


Of = tuple[SixMonthLoss, str, OwnRate | None]


def _logged_exponent(spell: StorageSpell, seen: Logged, ratios: Sequence[Ratio], of: Of) -> Estimate:
    stored = seen.spell(1.0, 1.0, 1.0)
    return _exponent(
        spell,
        days=stored.days,
        temperature_c=stored.temperature_c,
        share_above_20_c=stored.share_above_20_c,
        doubts=[*ratios, _temperature_doubt("logger_temperature_spread_c")],
        of=of,
    )


def _exponent(
    spell: StorageSpell,
    *,
    days: float,
    temperature_c: float,
    doubts: Sequence[Ratio],
    of: Of,
    share_above_20_c: float | None = None,
) -> Estimate:
    loss, form, own = of
    packing = packing_used(spell.packing, residual_oxygen_percent=spell.residual_oxygen_percent).packing
    low, high = packing.low, packing.high
    if own is None:
        rate, doubts = rate_of_form(loss, form), [*rate_doubts(form), *doubts]
    elif packing.code in own.packings:
        rate, low, high = own.there, packing.factor, packing.factor
    else:
        rate = own.elsewhere
    hot = get_assumption("above_20_c_rate_ratio")
    return log_loss_estimate(
        spells=[Spell(days, temperature_c, packing.factor, low, high, share_above_20_c)],
        rate_per_day=rate,
        rate_ratios=doubts,
        above_20_c=Ratio(hot.low, hot.high),
    )


def rate_of_form(loss: SixMonthLoss, form: str) -> Estimate:
    """The rate behind a cultivar's six-month loss, 1/day at 20 °C, unprotected; of pellets slower by the house figure.

    The interval is that of the six-month loss; what is doubtful of the form stands in `rate_doubts`.
    """
    cones = rate_estimate_per_day(
        lost_6_months_percent=loss.lost_percent,
        low_percent=loss.low_percent,
        high_percent=loss.high_percent,
    )
    ratio = get_assumption("pellet_rate_ratio").value if form in PELLETS else 1.0
    return Estimate(cones.estimate * ratio, cones.low * ratio, cones.high * ratio)


def after_days(gone: Estimate, rate: Estimate, days: float) -> Estimate:
    """The exponent after so many more days at a rate."""
    return Estimate(
        gone.estimate + rate.estimate * days, gone.low + rate.low * days, gone.high + rate.high * days
    )


def rate_doubts(form: str) -> list[Ratio]:
    """What is doubtful of the rate itself: this lot among its cultivar's, and pellets among cones."""
    lot = get_assumption("storage_rate_spread_ratio")
    doubts = [Ratio(lot.low, lot.high)]
    if form in PELLETS:
        pellets = get_assumption("pellet_rate_ratio")
        doubts.append(Ratio(pellets.low / pellets.value, pellets.high / pellets.value))
    return doubts


def _temperature_doubt(name: str) -> Ratio:
    warmer = temperature_factor(temperature_c=MODEL_TO_C + get_assumption(name).high)
    return Ratio(1 / warmer, warmer)


def with_ends(spells: Sequence[StorageSpell], until: date) -> list[tuple[StorageSpell, date]]:
    """Each spell with the day it ends on; the open one ends on the day asked for."""
    return list(zip(spells, [*(s.began_on for s in spells[1:]), until], strict=True))


def sd_log(figure: Measured, *, name: str, form: str) -> float:
    """The doubt of a figure: its laboratory's own statement or the method's, and who cored how many packages."""
    quantity, group = QUANTITIES[name]
    method = find_method(figure.method or "other", group=group) or get_method("other", group=group)
    between_percent = method.between_laboratory_cv_percent
    if figure.stated_sd is not None and figure.value > 0:
        between_percent = 100 * figure.stated_sd / figure.value
    cored = figure.packages_cored or int(get_assumption("packages_cored_default").value)
    scatter = sampling_cv(quantity=quantity, form=form).value
    return combine_sd_log(
        sds_log=[
            sd_log_from_cv(cv_percent=between_percent),
            sampling_sd_log(cv_percent=scatter, packages_cored=cored),
        ]
    )


# Under what name the assumptions and the methods know a figure.
QUANTITIES = {
    "alpha_percent": ("alpha", "alpha_beta"),
    "beta_percent": ("beta", "alpha_beta"),
    "hop_storage_index": ("hop_storage_index", "hop_storage_index"),
    "oil_ml_per_100g": ("oil", "oil"),
    "moisture_percent": ("moisture", "moisture"),
}


def index_at_the_end(baseline_index: float) -> float:
    """The index at which the published formula has lost everything of hops that began at a baseline."""
    return index_from_resin_loss(resin_loss_percent=100.0, baseline_index=baseline_index)


def index_after(
    index: float, gone: Estimate, sd: float, *, baseline_index: float = BASELINE_INDEX
) -> Estimate | None:
    """The Hop Storage Index after storage, from the measured one unclamped; None once nothing is left to lose."""
    if index >= index_at_the_end(baseline_index):
        return None
    return index_after_storage_estimate(
        hop_storage_index=index, index_sd_log=sd, log_loss=gone, baseline_index=baseline_index
    )
