"""A lot's own rate of loss, learnt from its repeat analyses, and which reports it is not learnt from.

Two or more standing reports by like methods update the rate of the cultivar. Of alpha and index the more
telling is taken: one sample gave both. Rate and packing are learnt together; in another packing only the
lot's part of what was learnt counts.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from service.errors import OutOfRange, UnlikeReports
from service.facts import Fact
from service.market.goods.lab_reports import LabReport, Measured, measured
from service.market.goods.lots import PELLETS, Lot, StorageSpell
from service.market.goods.temperature_logs import LoggedDay
from service.market.storage.storage_rates import (
    INDEX_AT_THE_END,
    QUANTITIES,
    OwnRate,
    logged_between,
    rate_doubts,
    rate_of_form,
    sd_log,
    with_ends,
)
from service.reference.assumptions import get_assumption
from service.reference.methods import find_method
from service.reference.packings import packing_used
from service.reference.six_month_storage import SixMonthLoss
from service.science.rate_learning import (
    LearntRate,
    RepeatReport,
    learn_rate_from_alpha,
    learn_rate_from_index,
    rate_apart_from_packing,
)
from service.science.storage import Spell, effective_days_at_20_c
from service.science.storage_spread import Ratio, log_loss_estimate
from service.science.uncertainty import Estimate

NAMED = {"alpha_percent": "alpha", "hop_storage_index": "the Hop Storage Index"}


class Evidence(Fact, frozen=True, kw_only=True):
    """What was learnt, from which reports' figure by which like methods."""

    quantity: str
    reports: tuple[str, ...]
    learnt: LearntRate


class Learning(Fact, frozen=True, kw_only=True):
    """A lot's own rate, if its reports teach one, and in words which reports do not and why."""

    own: OwnRate | None = None
    evidence: Evidence | None = None
    not_used: tuple[str, ...] = ()


NOTHING_LEARNT = Learning()


def learn(lot: Lot, *, loss: SixMonthLoss, logged: Mapping[date, LoggedDay]) -> Learning:
    """Learn a lot's own rate from two or more standing reports by like methods; of alpha and index the more telling.

    A buyer's report and a corrected one never count. Alpha and index of one sample are not independent, so one of
    them is taken: the one whose reports by themselves tell the rate more sharply.
    """
    if not lot.spells or lot.form == "wet_hop" or len(lot.reports) < 2:
        return NOTHING_LEARNT
    told: list[str] = list(_of_cones(lot))
    found: list[tuple[Evidence, Estimate, tuple[str, ...]]] = []
    for quantity in NAMED:
        alike, left = _alike(lot.reports, quantity)
        told += left
        try:
            learnt = _learn_from(alike, quantity, lot, loss, logged)
        except UnlikeReports as refusal:
            told.append(f"{_reports(alike)}: {NAMED[quantity]}: {refusal.detail}")
            continue
        if learnt is not None:
            found.append(learnt)
    if not found:
        return Learning(not_used=tuple(told))
    found.sort(key=lambda one: one[0].learnt.evidence_sd_per_day)
    evidence, prior_alone, packings = found[0]
    told += [
        f"{NAMED[other.quantity]} of {' and '.join(other.reports)} was not counted beside: one sample would count twice"
        for other, _, _ in found[1:]
    ]
    own = OwnRate(
        packings=packings,
        there=evidence.learnt.result,
        elsewhere=rate_apart_from_packing(learnt=evidence.learnt, prior_without_packing=prior_alone),
    )
    return Learning(own=own, evidence=evidence, not_used=tuple(told))


def _of_cones(lot: Lot) -> Iterator[str]:
    if lot.form in PELLETS:
        for report in lot.reports:
            if report.before_pelletizing and report.corrected_by is None:
                yield (
                    f"{report.code} is of the cones before pelletizing: pellets lose acids at another rate, and "
                    "alpha may change in the mill, so nothing is learnt across it"
                )


def _alike(reports: Sequence[LabReport], quantity: str) -> tuple[list[Measured], list[str]]:
    """The largest group of figures by like methods, the newer of two equal ones; and what of the others is said."""
    groups: dict[str, list[Measured]] = {}
    told = []
    figures = [m for r in reports if r.is_standing and (m := measured(r, quantity)) is not None]
    if len(figures) < 2:
        return [], []
    for figure in sorted(figures, key=lambda m: (m.sampled_on, int(m.report[1:] or 0))):
        like = _likeness(figure.method, quantity)
        if like is None:
            told.append(f"{figure.report} does not name a known method for {NAMED[quantity]}: not compared")
        elif quantity == "hop_storage_index" and figure.value >= INDEX_AT_THE_END:
            told.append(f"{figure.report} says that nothing is left: no rate can be read from it")
        elif figure.value <= 0:
            told.append(f"{figure.report} found no alpha: no rate can be read from it")
        else:
            groups.setdefault(like, []).append(figure)
    if not groups:
        return [], told
    taken = max(groups.values(), key=lambda group: (len(group), group[-1].sampled_on))
    told += [
        f"{figure.report} measured {NAMED[quantity]} by {_method_name(figure, quantity)}, unlike {_reports(taken)}: "
        "not compared"
        for group in groups.values()
        if group is not taken
        for figure in group
    ]
    return taken, told


def _likeness(code: str | None, quantity: str) -> str | None:
    """What methods must share to be compared: the family; of lead values, which answer to more than alpha, the method."""
    method = find_method(code or "other", group=QUANTITIES[quantity][1])
    if method is None or method.family == "other":
        return None
    return method.code if method.family == "lead" else method.family


def _method_name(figure: Measured, quantity: str) -> str:
    method = find_method(figure.method or "other", group=QUANTITIES[quantity][1])
    return method.name if method else "a method not named"


def _reports(figures: Sequence[Measured]) -> str:
    return " and ".join(figure.report for figure in figures)


def _learn_from(
    figures: Sequence[Measured],
    quantity: str,
    lot: Lot,
    loss: SixMonthLoss,
    logged: Mapping[date, LoggedDay],
) -> tuple[Evidence, Estimate, tuple[str, ...]] | None:
    if len(figures) < 2:
        return None
    first, last = figures[0].sampled_on, figures[-1].sampled_on
    stored = _stored(lot.spells, first, last, logged)
    days = effective_days_at_20_c(spells=[spell for _, spell in stored])
    # Nothing to learn of a time without storage; the science says so of the reports.
    prior = alone = rate_of_form(loss, lot.form)
    if days > 0:
        hot = get_assumption("above_20_c_rate_ratio")
        prior, alone = (
            _per_day(
                log_loss_estimate(
                    spells=spells,
                    rate_per_day=rate_of_form(loss, lot.form),
                    rate_ratios=rate_doubts(lot.form),
                    above_20_c=Ratio(hot.low, hot.high),
                ),
                days,
            )
            for spells in ([spell for _, spell in stored], [_sure_packing(spell) for _, spell in stored])
        )
    reports = [
        RepeatReport(
            value=figure.value,
            sd_log=sd_log(figure, name=quantity, form=lot.form),
            effective_days=effective_days_at_20_c(
                spells=[spell for _, spell in _stored(lot.spells, first, figure.sampled_on, logged)]
            ),
            form=lot.form,
            method_family=str(_likeness(figure.method, quantity)),
        )
        for figure in figures
    ]
    by = learn_rate_from_alpha if quantity == "alpha_percent" else learn_rate_from_index
    try:
        learnt = by(prior_rate_per_day=prior, reports=reports)
    except OutOfRange as refusal:
        raise UnlikeReports(refusal.detail) from None
    codes = tuple(dict.fromkeys(code for code, _ in stored))
    evidence = Evidence(quantity=quantity, reports=tuple(f.report for f in figures), learnt=learnt)
    return evidence, alone, codes


def _stored(
    spells: Sequence[StorageSpell], since: date, until: date, logged: Mapping[date, LoggedDay]
) -> list[tuple[str, Spell]]:
    """The storage between two days with the packing that counts: by the logger where it covers, else as stated."""
    found = []
    for spell, ends in with_ends(spells, until):
        first, last = max(spell.began_on, since), min(ends, until)
        if (last - first).days <= 0:
            continue
        packing = packing_used(spell.packing, residual_oxygen_percent=spell.residual_oxygen_percent).packing
        factors = (packing.factor, packing.low, packing.high)
        seen = logged_between(logged, first, last)
        if seen.covered_days > 0:
            found.append((packing.code, seen.spell(*factors)))
        stated = (last - first).days - seen.covered_days
        if stated > 0:
            found.append((packing.code, Spell(stated, spell.stored_at_c, *factors)))
    return found


def _sure_packing(spell: Spell) -> Spell:
    return Spell(
        spell.days, spell.temperature_c, spell.packing_factor, share_above_20_c=spell.share_above_20_c
    )


def _per_day(exponent: Estimate, days: float) -> Estimate:
    return Estimate(exponent.estimate / days, exponent.low / days, exponent.high / days)
