"""What a storage estimate says of itself: its method, inputs, assumptions and cautions."""

from collections.abc import Sequence
from datetime import date

from service.market.lab_reports import Measured
from service.market.lots import PELLETS, StorageSpell
from service.market.storage_rates import MODEL_TO_C, with_ends
from service.reference.assumptions import get_assumption, sampling_cv
from service.reference.cautions import get_caution
from service.reference.methods import find_method
from service.reference.packings import packing_used
from service.reference.six_month_storage import SixMonthLoss
from service.science.storage import temperature_factor
from service.science.storage_index import resin_loss_percent

METHOD_WORDS = (
    "first-order loss at the cultivar's six-month rate, halved for every 15 °C colder than 20 °C, "
    "times the packing factor"
)
SOURCES = (
    "M. Garetz 1994, Brewing Techniques 2(1): first-order rate and temperature rule",
    "G. B. Nickerson, S. T. Likens 1979, J. ASBC 37:184-187: Hop Storage Index",
)
LONG_COLD_GAP = (
    "Measured over two years cold and without oxygen, hops lost 10 to 35 % of their alpha; this model gives "
    "about twice that (Rutnik, Ocvirk, Košir 2023, Plants 12:936). Analyse again before relying on an old lot."
)


def inputs_of(
    alpha: Measured,
    spells: Sequence[StorageSpell],
    on: date,
    loss: SixMonthLoss,
    index: Measured | None,
) -> dict[str, object]:
    """The inputs, plainly: the figures, the rows of the book, the spells that lie before the day."""
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
    spells: Sequence[StorageSpell], loss: SixMonthLoss, form: str, alpha: Measured
) -> tuple[str, ...]:
    """Each assumption that the estimate rests on, with its mark."""
    said = {}
    for name in (*loss.assumptions, "storage_rate_spread_ratio", "storage_temperature_spread_c"):
        said[name] = get_assumption(name)
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


def cautions_of(spells: Sequence[StorageSpell], form: str, index: Measured | None) -> tuple[str, ...]:
    """What a reader of the estimate should mind."""
    codes = ["estimate"]
    if any(s.stored_at_c > MODEL_TO_C for s in spells):
        codes.append("storage_above_20_c")
    if form in PELLETS:
        codes.append("pellet_upper_bound")
    said = [get_caution(code).words for code in codes]
    if index is not None and resin_loss_percent(hop_storage_index=index.value) < 0:
        said.append(get_caution("hop_storage_index_low").words)
    if any(s.stored_at_c <= 5 and s.packing.startswith("barrier") for s in spells):
        said.append(LONG_COLD_GAP)
    return tuple(said)
