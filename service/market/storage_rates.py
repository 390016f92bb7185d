"""How fast a lot loses acids in store: the exponent over its spells, and the interval around it."""

from collections.abc import Sequence
from datetime import date

from service.market.lab_reports import Measured
from service.market.lots import PELLETS, StorageSpell
from service.reference.assumptions import get_assumption, sampling_cv
from service.reference.methods import find_method, get_method
from service.reference.packings import packing_used
from service.reference.six_month_storage import SixMonthLoss
from service.science.storage import Spell, temperature_factor
from service.science.storage_index import index_from_resin_loss
from service.science.storage_index_spread import index_after_storage_estimate
from service.science.storage_spread import Ratio, log_loss_estimate, rate_estimate_per_day
from service.science.uncertainty import Estimate, combine_sd_log, sampling_sd_log, sd_log_from_cv

# Over this the published temperature rule does not reach.
MODEL_TO_C = 20.0
# Where the published formula has lost everything.
INDEX_AT_THE_END = index_from_resin_loss(resin_loss_percent=100.0)
NOTHING_GONE = Estimate(0.0, 0.0, 0.0)


def spell_rate(
    spell: StorageSpell, *, loss: SixMonthLoss, form: str, ratios: Sequence[Ratio] = ()
) -> Estimate:
    """The rate in one spell with its interval, 1/day; `ratios` are further doubts about it."""
    hot = get_assumption("above_20_c_rate_ratio")
    return log_loss_estimate(
        spells=[_one_day(spell)],
        rate_per_day=rate_estimate_per_day(
            lost_6_months_percent=loss.lost_percent,
            low_percent=loss.low_percent,
            high_percent=loss.high_percent,
        ),
        rate_ratios=[*_doubts(form), *ratios],
        above_20_c=Ratio(hot.low, hot.high),
    )


def exponent_over(
    spells: Sequence[StorageSpell],
    *,
    since: date,
    until: date,
    loss: SixMonthLoss,
    form: str,
    ratios: Sequence[Ratio] = (),
) -> Estimate:
    """The exponent of storage loss over the spells between two days, however far the later one is.

    The part of the doubt that all spells share is not averaged away: lows add to lows, highs to highs.
    """
    gone = NOTHING_GONE
    for spell, ends in with_ends(spells, until):
        days = (min(ends, until) - max(spell.began_on, since)).days
        if days > 0:
            gone = after_days(gone, spell_rate(spell, loss=loss, form=form, ratios=ratios), days)
    return gone


def after_days(gone: Estimate, rate: Estimate, days: int) -> Estimate:
    """The exponent after so many more days at a rate."""
    return Estimate(
        gone.estimate + rate.estimate * days, gone.low + rate.low * days, gone.high + rate.high * days
    )


def _one_day(spell: StorageSpell) -> Spell:
    packing = packing_used(spell.packing, residual_oxygen_percent=spell.residual_oxygen_percent).packing
    return Spell(1, spell.stored_at_c, packing.factor, packing.low, packing.high)


def _doubts(form: str) -> list[Ratio]:
    """What is doubtful in every spell: this lot among its cultivar's, the room's temperature, pellets."""
    lot = get_assumption("storage_rate_spread_ratio")
    warmer = temperature_factor(
        temperature_c=MODEL_TO_C + get_assumption("storage_temperature_spread_c").high
    )
    doubts = [Ratio(lot.low, lot.high), Ratio(1 / warmer, warmer)]
    if form in PELLETS:
        pellets = get_assumption("pellet_rate_ratio")
        doubts.append(Ratio(pellets.low, pellets.high))
    return doubts


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


def index_after(index: float, gone: Estimate, sd: float) -> Estimate | None:
    """The Hop Storage Index after storage, from the measured one unclamped; None once nothing is left to lose."""
    if index >= INDEX_AT_THE_END:
        return None
    return index_after_storage_estimate(hop_storage_index=index, index_sd_log=sd, log_loss=gone)
