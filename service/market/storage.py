"""What storage leaves of a lot on a day, as it is stored or as a buyer will store it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.errors import FigureMissing, InvalidRequest, NoStorageModel
from service.market.lab_reports import Figures, Measured, standing_figures
from service.market.lots import Lot, StorageSpell
from service.market.storage_rates import (
    exponent_over,
    index_after,
    sd_log,
    with_ends,
)
from service.market.storage_words import METHOD_WORDS, SOURCES, assumptions_of, cautions_of, inputs_of
from service.reference.assumptions import get_assumption
from service.reference.six_month_storage import SixMonthLoss
from service.science.storage_index import resin_loss_percent
from service.science.storage_spread import Ratio, alpha_left_estimate, alpha_loss_percent_estimate
from service.science.uncertainty import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageOutlook:
    """What storage leaves of a lot on a day: an estimate with its method, inputs and assumptions."""

    lot_code: str
    on: date
    alpha_percent: Estimate
    alpha_loss_percent: Estimate
    beta_percent: Estimate | None
    hop_storage_index: Estimate | None
    resin_loss_percent: float | None
    report: str
    method: str
    inputs: dict[str, object]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StoragePlan:
    """What a buyer will do: from a day on, at a temperature, in a packing."""

    from_on: date
    kept_at_c: float
    packing: str


def planned_spells(lot: Lot, plan: StoragePlan | None) -> tuple[StorageSpell, ...]:
    """The lot's spells, followed by what a buyer will do."""
    if plan is None:
        return lot.spells
    kept = tuple(s for s in lot.spells if s.began_on < plan.from_on)
    last = lot.spells[-1]
    oxygen = last.residual_oxygen_percent if plan.packing == last.packing else None
    return (
        *kept,
        StorageSpell(
            began_on=plan.from_on,
            packing=plan.packing,
            stored_at_c=plan.kept_at_c,
            residual_oxygen_percent=oxygen,
        ),
    )


def storage_outlook(
    lot: Lot, *, on: date, loss: SixMonthLoss, plan: StoragePlan | None = None
) -> StorageOutlook:
    """What storage leaves of a lot on a day.

    Raises:
        NoStorageModel: wet hops, or nothing is known of the storage.
        FigureMissing: no alpha was measured.
        InvalidRequest: the day lies before the sampling, or the plan begins before what is recorded.

    """
    figures = standing_figures(lot.reports)
    alpha = _alpha_to_start_from(lot, figures)
    _accept_day(lot, alpha, on, plan)
    spells = planned_spells(lot, plan)
    gone = exponent_over(spells, since=alpha.sampled_on, until=on, loss=loss, form=lot.form)
    alpha_sd = sd_log(alpha, name="alpha_percent", form=lot.form)
    index, index_figure = None, figures.hop_storage_index
    if index_figure is not None and index_figure.sampled_on <= on:
        index_gone = exponent_over(spells, since=index_figure.sampled_on, until=on, loss=loss, form=lot.form)
        index = index_after(
            index_figure.value, index_gone, sd_log(index_figure, name="hop_storage_index", form=lot.form)
        )
    used = [s for s, ends in with_ends(spells, on) if ends > alpha.sampled_on and s.began_on < on]
    return StorageOutlook(
        lot_code=lot.code,
        on=on,
        alpha_percent=alpha_left_estimate(alpha_percent=alpha.value, alpha_sd_log=alpha_sd, log_loss=gone),
        alpha_loss_percent=alpha_loss_percent_estimate(log_loss=gone),
        beta_percent=_beta_after(figures.beta_percent, spells, on, loss, lot.form),
        hop_storage_index=index,
        resin_loss_percent=None
        if index is None
        else max(0.0, resin_loss_percent(hop_storage_index=index.estimate)),
        report=alpha.report,
        method=METHOD_WORDS,
        inputs=inputs_of(alpha, spells, on, loss, index_figure),
        assumptions=assumptions_of(used, loss, lot.form, alpha),
        cautions=cautions_of(used, lot.form, index_figure),
        sources=SOURCES,
    )


def _beta_after(
    beta: Measured | None, spells: Sequence[StorageSpell], on: date, loss: SixMonthLoss, form: str
) -> Estimate | None:
    if beta is None:
        return None
    wider = get_assumption("beta_rate_ratio")
    gone = exponent_over(
        spells,
        since=beta.sampled_on,
        until=on,
        loss=loss,
        form=form,
        ratios=[Ratio(wider.low, wider.high)],
    )
    return alpha_left_estimate(
        alpha_percent=beta.value, alpha_sd_log=sd_log(beta, name="beta_percent", form=form), log_loss=gone
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
