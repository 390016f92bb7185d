"""What a storage estimate says of itself: its method, inputs, assumptions and cautions."""

from collections.abc import Sequence
from datetime import date

from service.market.goods.lab_reports import Measured
from service.market.goods.lots import PELLETS, StorageSpell
from service.market.goods.temperature_logs import TemperatureLog
from service.market.storage.own_rates import NAMED, Learning
from service.market.storage.storage_model import Keeping
from service.market.storage.storage_rates import MODEL_TO_C, logged_between, with_ends
from service.reference.assumptions import get_assumption, sampling_cv
from service.reference.cautions import get_caution
from service.reference.methods import find_method
from service.reference.packings import packing_used
from service.science.storage import temperature_factor
from service.science.storage_index import resin_loss_percent
from service.science.uncertainty import Estimate

METHOD_WORDS = (
    "first-order loss at the cultivar's six-month rate, halved for every 15 °C colder than 20 °C, "
    "times the packing factor"
)
SOURCES = (
    "M. Garetz 1994, Brewing Techniques 2(1): first-order rate and temperature rule",
    "G. B. Nickerson, S. T. Likens 1979, J. ASBC 37:184-187: Hop Storage Index",
)
OIL_WORDS = (
    "Total oil falls as hops age, myrcene most, fastest warm and in air; pellets bear air worse and cones bear warmth "
    "worse; an opened pack ages faster. No rate of it is published that could be reckoned with, so no figure is given "
    "(Rutnik et al. 2022, Foods 11:3089; McMillan, Zunkel, Muñoz Insa, Schönberger 2023, BrewingScience 76)."
)
LONG_COLD_GAP = (
    "Measured over two years cold and without oxygen, hops lost 10 to 35 % of their alpha "
    "(Rutnik, Ocvirk, Košir 2023, Plants 12:936). Analyse again before relying on an old lot."
)


def keeping_words(keeping: Keeping, *, since: date, until: date) -> tuple[str, ...]:
    """What of loggers and repeat analyses stands behind an estimate, in words; nothing where there is neither."""
    words = []
    seen = logged_between(keeping.logged, since, until)
    if seen.covered_days > 0:
        stated = max(0.0, (until - since).days - seen.covered_days)
        words.append(
            f"a logger's temperatures for {seen.covered_days:.1f} days, the stated ones for the other {stated:.1f}"
        )
    evidence = keeping.learning.evidence
    if evidence is not None:
        words.append(
            f"at the lot's own rate, learnt from {NAMED[evidence.quantity]} of {' and '.join(evidence.reports)} "
            "by Bayes' rule with the cultivar's rate as prior"
        )
    return tuple(words)


def learning_facts(learning: Learning) -> dict[str, object] | None:
    """Prior, evidence and result of what was learnt; None where nothing was."""
    evidence, own = learning.evidence, learning.own
    if evidence is None or own is None:
        return None
    learnt = evidence.learnt
    return {
        "quantity": evidence.quantity,
        "reports": list(evidence.reports),
        "packings": list(own.packings),
        "prior_per_day_at_20_c": _plain(learnt.prior),
        "evidence_per_day_at_20_c": learnt.evidence_rate_per_day,
        "evidence_sd_per_day_at_20_c": learnt.evidence_sd_per_day,
        "result_per_day_at_20_c": _plain(learnt.result),
        "result_in_other_packings_per_day_at_20_c": _plain(own.elsewhere),
        "is_surprising": learnt.is_surprising,
    }


def logger_facts(
    logs: Sequence[TemperatureLog], keeping: Keeping, *, since: date, until: date
) -> dict[str, object] | None:
    """What loggers saw between two days; None where nothing was logged then."""
    seen = logged_between(keeping.logged, since, until)
    if seen.covered_days <= 0:
        return None
    days = [day for on, day in keeping.logged.items() if since <= on < until]
    return {
        "files": [log.code for log in logs if log.is_standing],
        "first_day": min(day.day for day in days).isoformat(),
        "last_day": max(day.day for day in days).isoformat(),
        "logged_days": round(seen.covered_days, 3),
        "stated_days": round(max(0.0, (until - since).days - seen.covered_days), 3),
        "effective_days_at_20_c": seen.effective_days_at_20_c,
        "coldest_c": min(day.coldest_c for day in days),
        "hottest_c": max(day.hottest_c for day in days),
        "days_reaching_above_20_c": sum(day.hottest_c > MODEL_TO_C for day in days),
    }


def _plain(figure: Estimate) -> dict[str, float]:
    return {
        "estimate": figure.estimate,
        "low": figure.low,
        "high": figure.high,
        "confidence": figure.confidence,
    }


def inputs_of(alpha: Measured, keeping: Keeping, on: date, index: Measured | None) -> dict[str, object]:
    """The inputs, plainly: the figures, the rows of the book, the spells that lie before the day."""
    loss, spells = keeping.loss, keeping.spells
    return {
        "alpha_percent": alpha.value,
        "alpha_method": alpha.method,
        "sampled_on": alpha.sampled_on.isoformat(),
        "days": (on - alpha.sampled_on).days,
        "hop_storage_index": index.value if index else None,
        "hop_storage_index_report": index.report if index else None,
        "six_month_loss_percent": {
            "estimate": loss.lost_percent,
            "low": loss.low_percent,
            "high": loss.high_percent,
            "confidence": 0.9,
            "basis": loss.basis_words,
        },
        "six_month_rows": [
            {
                "remaining_percent_min": row.remaining_percent_low,
                "remaining_percent_max": row.remaining_percent_high,
                "kind": row.kind,
                "source": row.source,
                "mark": row.mark,
            }
            for row in loss.rows
        ],
        "spells": [
            {
                "began_on": spell.began_on.isoformat(),
                "until": ends.isoformat(),
                "stored_at_c": spell.stored_at_c,
                "packing": spell.packing,
                "packing_factor": packing_used(
                    spell.packing, residual_oxygen_percent=spell.residual_oxygen_percent
                ).packing.factor,
                "temperature_factor": temperature_factor(temperature_c=spell.stored_at_c),
            }
            for spell, ends in with_ends(spells, on)
            if spell.began_on <= on and (ends > alpha.sampled_on or ends == on)
        ],
    }


def assumptions_of(
    spells: Sequence[StorageSpell], keeping: Keeping, alpha: Measured, *, until: date
) -> tuple[str, ...]:
    """Each assumption that the estimate rests on, with its mark."""
    loss, form = keeping.loss, keeping.form
    said = {}
    for name in (*loss.assumptions, "storage_rate_spread_ratio", "storage_temperature_spread_c"):
        said[name] = get_assumption(name)
    if logged_between(keeping.logged, alpha.sampled_on, until).covered_days > 0:
        said["logger_temperature_spread_c"] = get_assumption("logger_temperature_spread_c")
    if any(s.stored_at_c > MODEL_TO_C for s in spells):
        said["above_20_c_rate_ratio"] = get_assumption("above_20_c_rate_ratio")
    if form in PELLETS:
        said["pellet_rate_ratio"] = get_assumption("pellet_rate_ratio")
    said["beta_rate_ratio"] = get_assumption("beta_rate_ratio")
    scatter = sampling_cv(quantity="alpha", form=form)
    said[scatter.name] = scatter
    if alpha.packages_cored is None:
        said["packages_cored_default"] = get_assumption("packages_cored_default")
    words = [f"{a.words} ({a.mark})" for a in said.values()]
    for code in dict.fromkeys(s.packing for s in spells):
        oxygen = next(s.residual_oxygen_percent for s in spells if s.packing == code)
        used = packing_used(code, residual_oxygen_percent=oxygen)
        if used.reason:
            words.append(used.reason)
        p = used.packing
        words.append(f"{p.name}: factor {p.factor:g} ({p.mark}), {p.low:g} to {p.high:g} ({p.interval_mark})")
    method = find_method(alpha.method or "other", group="alpha_beta")
    if method is not None and alpha.stated_sd is None:
        words.append(
            f"{method.name}: {method.between_laboratory_cv_percent:g} % between laboratories ({method.mark})"
        )
    return tuple(words)


def cautions_of(
    spells: Sequence[StorageSpell], keeping: Keeping, index: Measured | None, *, since: date, until: date
) -> tuple[str, ...]:
    """What a reader of the estimate should mind."""
    hot_days = sum(day.hottest_c > MODEL_TO_C for on, day in keeping.logged.items() if since <= on < until)
    codes = ["estimate"]
    if hot_days or any(s.stored_at_c > MODEL_TO_C for s in spells):
        codes.append("storage_above_20_c")
    if keeping.form in PELLETS:
        codes.append("pellets_by_cones")
    said = [get_caution(code).words for code in codes]
    if hot_days:
        said.append(
            f"The logger read over {MODEL_TO_C:g} °C on {hot_days} of the days; they count all the same."
        )
    evidence = keeping.learning.evidence
    if evidence is not None and evidence.learnt.is_surprising:
        said.append(
            "The repeat analyses lie far from what is known of the cultivar: look at sampling, method and storage "
            "before relying on either."
        )
    if index is not None and resin_loss_percent(hop_storage_index=index.value) < 0:
        said.append(get_caution("hop_storage_index_low").words)
    if any(s.stored_at_c <= 5 and s.packing.startswith("barrier") for s in spells):
        said.append(LONG_COLD_GAP)
    return tuple(said)
