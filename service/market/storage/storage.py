"""What storage leaves of a lot on a day, as it is stored or as a buyer will store it; closed, and once opened."""

import math
from collections.abc import Mapping
from datetime import date, timedelta

from service.errors import FigureMissing, InvalidRequest, NoStorageModel
from service.facts import Fact, field, replace
from service.market.goods.lab_reports import Figures, LabReport, Measured, measured, standing_figures
from service.market.goods.lots import Lot, StorageSpell
from service.market.storage.lead_values import LeadCorrection, lead_correction
from service.market.storage.storage_model import Keeping, keeping_of
from service.market.storage.storage_model import StoragePlan as StoragePlan
from service.market.storage.storage_model import planned_spells as planned_spells
from service.market.storage.storage_rates import index_after, index_at_the_end, sd_log, with_ends
from service.market.storage.storage_words import (
    METHOD_WORDS,
    OIL_WORDS,
    SOURCES,
    assumptions_of,
    cautions_of,
    inputs_of,
    keeping_words,
    learning_facts,
    logger_facts,
)
from service.reference.assumptions import get_assumption
from service.reference.six_month_storage import SixMonthLoss
from service.science.storage_index import BASELINE_INDEX, BASELINE_RANGE, log_resin_left
from service.science.storage_spread import Ratio, alpha_left_estimate, alpha_loss_percent_estimate
from service.science.uncertainty import Estimate

# How far ahead an answer looks, closed and opened.
DAYS_AHEAD = (7, 30, 90, 180)


class Left(Fact, frozen=True, kw_only=True):
    """What is left of a lot some days later."""

    alpha_percent: Estimate
    hop_storage_index: Estimate | None


class Ahead(Fact, frozen=True, kw_only=True):
    """Some days after the day asked for: with the package left closed, and with it opened on that day."""

    days: int
    on: date
    closed: Left
    opened: Left


class Baseline(Fact, frozen=True, kw_only=True):
    """The index of the lot when fresh, from which the loss of resins is counted; `report` where it is the lot's own."""

    index: float = BASELINE_INDEX
    report: str | None = None
    words: str = f"{BASELINE_INDEX:g}, the published index of fresh hops"


class StorageOutlook(Fact, frozen=True, kw_only=True):
    """What storage leaves of a lot on a day: an estimate with its method, inputs and assumptions.

    `resin_loss_clamped` says that the index lies under that of fresh hops, so that a negative loss is shown as 0.
    """

    lot_code: str
    on: date
    alpha_percent: Estimate
    alpha_loss_percent: Estimate
    beta_percent: Estimate | None
    hop_storage_index: Estimate | None
    resin_loss_percent: float | None
    resin_loss_clamped: bool
    baseline: Baseline
    ahead: tuple[Ahead, ...]
    rate_learning: Mapping[str, object] | None
    not_learnt_from: tuple[str, ...]
    temperature_history: Mapping[str, object] | None
    lead_correction: LeadCorrection | None
    oil: str
    report: str
    method: str
    inputs: dict[str, object]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]


class _Asked(Fact, frozen=True, kw_only=True):
    """What is reckoned with in one outlook."""

    keeping: Keeping
    alpha: Measured
    index: Measured | None
    baseline: Baseline
    form: str
    alpha_sd_log: float = field(default=0.0)

    def left_on(self, on: date) -> Left:
        gone = self.keeping.exponent(since=self.alpha.sampled_on, until=on)
        alpha = alpha_left_estimate(
            alpha_percent=self.alpha.value, alpha_sd_log=self.alpha_sd_log, log_loss=gone
        )
        return Left(alpha_percent=alpha, hop_storage_index=self.index_on(on))

    def index_on(self, on: date) -> Estimate | None:
        if self.index is None or self.index.sampled_on > on:
            return None
        gone = self.keeping.exponent(since=self.index.sampled_on, until=on)
        sd = sd_log(self.index, name="hop_storage_index", form=self.form)
        return index_after(self.index.value, gone, sd, baseline_index=self.baseline.index)


def storage_outlook(
    lot: Lot,
    *,
    on: date,
    loss: SixMonthLoss,
    plan: StoragePlan | None = None,
    baseline_index: float | None = None,
    baseline_of_report: bool = False,
) -> StorageOutlook:
    """What storage leaves of a lot on a day.

    The index of the fresh lot is the published one, the one given, or that of the lot's own earliest report.

    Raises:
        NoStorageModel: wet hops, or nothing is known of the storage.
        FigureMissing: no alpha was measured, or no index where the lot's own baseline is wanted.
        InvalidRequest: the day lies before the sampling, or the plan begins before what is recorded.

    """
    figures = standing_figures(lot.reports)
    alpha = _alpha_to_start_from(lot, figures)
    _accept_day(lot, alpha, on, plan)
    index = figures.hop_storage_index
    asked = _Asked(
        keeping=keeping_of(lot, loss=loss, plan=plan),
        alpha=alpha,
        index=index,
        baseline=_baseline(lot, baseline_index, of_report=baseline_of_report),
        form=lot.form,
        alpha_sd_log=sd_log(alpha, name="alpha_percent", form=lot.form),
    )
    keeping = asked.keeping
    now = asked.left_on(on)
    gone = keeping.exponent(since=alpha.sampled_on, until=on)
    resin = _resin_loss_percent(asked, on)
    used = [s for s, ends in with_ends(keeping.spells, on) if ends > alpha.sampled_on and s.began_on < on]
    words = keeping_words(keeping, since=alpha.sampled_on, until=on)
    return StorageOutlook(
        lot_code=lot.code,
        on=on,
        alpha_percent=now.alpha_percent,
        alpha_loss_percent=alpha_loss_percent_estimate(log_loss=gone),
        beta_percent=_beta_after(figures.beta_percent, keeping, on),
        hop_storage_index=now.hop_storage_index,
        resin_loss_percent=None if resin is None else max(0.0, resin),
        resin_loss_clamped=resin is not None and resin < 0,
        baseline=asked.baseline,
        ahead=_ahead(asked, on),
        rate_learning=learning_facts(keeping.learning),
        not_learnt_from=keeping.learning.not_used,
        temperature_history=logger_facts(lot.logs, keeping, since=alpha.sampled_on, until=on),
        lead_correction=lead_correction(figures, form=lot.form),
        oil=OIL_WORDS,
        report=alpha.report,
        method="; ".join((METHOD_WORDS, *words)),
        inputs=inputs_of(alpha, keeping, on, index),
        assumptions=assumptions_of(used, keeping, alpha, until=on),
        cautions=cautions_of(used, keeping, index, since=alpha.sampled_on, until=on),
        sources=SOURCES,
    )


def _ahead(asked: _Asked, on: date) -> tuple[Ahead, ...]:
    opened = replace(asked, keeping=_opened(asked.keeping, on))
    found = []
    for days in DAYS_AHEAD:
        day = on + timedelta(days=days)
        found.append(Ahead(days=days, on=day, closed=asked.left_on(day), opened=opened.left_on(day)))
    return tuple(found)


def _opened(keeping: Keeping, on: date) -> Keeping:
    """The same storage, with the package opened on a day and kept open at the temperature it has then."""
    before = tuple(spell for spell in keeping.spells if spell.began_on < on)
    there = next((s for s in reversed(keeping.spells) if s.began_on <= on), keeping.spells[0])
    opened = StorageSpell(began_on=on, packing="open", stored_at_c=there.stored_at_c)
    logged = {day: seen for day, seen in keeping.logged.items() if day < on}
    return replace(keeping, spells=(*before, opened), logged=logged)


def _resin_loss_percent(asked: _Asked, on: date) -> float | None:
    index, baseline = asked.index, asked.baseline.index
    if index is None or index.sampled_on > on or index.value >= index_at_the_end(baseline):
        return None
    gone = asked.keeping.exponent(since=index.sampled_on, until=on)
    left = log_resin_left(hop_storage_index=index.value, baseline_index=baseline)
    return -100 * math.expm1(left - gone.estimate)


def _baseline(lot: Lot, given: float | None, *, of_report: bool) -> Baseline:
    if given is not None:
        return Baseline(index=given, words=f"{given:g}, as given in the question")
    if not of_report:
        return Baseline()
    earliest = _earliest_index(lot.reports)
    if earliest is None:
        raise FigureMissing(
            f"no Hop Storage Index was measured for lot {lot.code}",
            lot_code=lot.code,
            missing=["hop_storage_index"],
        )
    least, most = BASELINE_RANGE
    if not least <= earliest.value <= most:
        raise InvalidRequest(
            f"the earliest index of lot {lot.code}, {earliest.value:g} of {earliest.report}, is no index of fresh "
            f"hops ({least:g} to {most:g})",
            errors=[{"parameter": "baseline", "detail": f"{earliest.value:g} is not {least:g} to {most:g}."}],
        )
    when = ""
    if lot.harvested_on is not None:
        when = f", sampled {(earliest.sampled_on - lot.harvested_on).days} days after picking began"
    words = f"{earliest.value:g} of the lot's earliest report {earliest.report}{when}; what was lost before is not seen"
    return Baseline(index=earliest.value, report=earliest.report, words=words)


def _earliest_index(reports: tuple[LabReport, ...]) -> Measured | None:
    found = [m for r in reports if r.is_standing and (m := measured(r, "hop_storage_index")) is not None]
    return min(found, key=lambda m: m.sampled_on, default=None)


def _beta_after(beta: Measured | None, keeping: Keeping, on: date) -> Estimate | None:
    if beta is None:
        return None
    wider = get_assumption("beta_rate_ratio")
    gone = keeping.exponent(since=beta.sampled_on, until=on, ratios=[Ratio(wider.low, wider.high)])
    return alpha_left_estimate(
        alpha_percent=beta.value,
        alpha_sd_log=sd_log(beta, name="beta_percent", form=keeping.form),
        log_loss=gone,
    )


def _alpha_to_start_from(lot: Lot, figures: Figures) -> Measured:
    if lot.form == "wet_hop":
        raise NoStorageModel("wet hops are used within a day or two; there is no storage model for them")
    if not lot.spells:
        raise NoStorageModel(f"lot {lot.code} does not say how it is stored", lot_code=lot.code)
    if figures.alpha_percent is None:
        raise FigureMissing(
            f"no alpha was measured for lot {lot.code}", lot_code=lot.code, missing=["alpha_percent"]
        )
    return figures.alpha_percent


def _accept_day(lot: Lot, alpha: Measured, on: date, plan: StoragePlan | None) -> None:
    if on < alpha.sampled_on:
        raise InvalidRequest(
            f"loss counts from the sampling on {alpha.sampled_on}; {on} lies before it",
            errors=[{"parameter": "on", "detail": f"Not before {alpha.sampled_on}."}],
        )
    if plan is not None and plan.from_on < lot.spells[-1].began_on:
        raise InvalidRequest(
            f"the plan begins on {plan.from_on}, before what is recorded from {lot.spells[-1].began_on}",
            errors=[{"parameter": "from", "detail": f"Not before {lot.spells[-1].began_on}."}],
        )
