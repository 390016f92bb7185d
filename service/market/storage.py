"""What storage leaves of a lot on a day: the exponent over its spells, and the interval around it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.errors import FigureMissing, InvalidRequest, NoStorageModel
from service.market.lab_reports import Figures, Measured, standing_figures
from service.market.lots import PELLETS, Lot, StorageSpell
from service.market.search import SearchFigures
from service.reference.assumptions import get_assumption, sampling_cv
from service.reference.cautions import get_caution
from service.reference.methods import find_method
from service.reference.packings import packing_used
from service.reference.six_month_storage import SixMonthLoss, six_month_loss
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
    used = [s for s, ends in _with_ends(spells, on) if ends > alpha.sampled_on]
    return StorageOutlook(
        lot_code=lot.code,
        on=on,
        alpha_percent=acid_after(alpha.value, gone, alpha_sd),
        alpha_loss_percent=loss_after(gone),
        beta_percent=_beta_after(figures.beta_percent, gone, lot.form),
        hop_storage_index=index,
        resin_loss_percent=None
        if index is None
        else max(0.0, resin_loss_percent(hop_storage_index=index.estimate)),
        report=alpha.report,
        method=METHOD_WORDS,
        inputs=_inputs(alpha, spells, on, loss, index_figure),
        assumptions=_assumptions(used, loss, lot.form, alpha),
        cautions=_cautions(used, lot.form, index_figure),
        sources=SOURCES,
    )


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


def _beta_after(beta: Measured | None, gone: Exponent, form: str) -> Estimate | None:
    if beta is None:
        return None
    ratio = get_assumption("beta_rate_ratio")
    wider = Exponent(gone.value, gone.low * ratio.low, gone.high * ratio.high)
    return acid_after(beta.value, wider, sd_log(beta, name="beta_percent", form=form))


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


def _with_ends(spells: Sequence[StorageSpell], until: date) -> list[tuple[StorageSpell, date]]:
    return list(zip(spells, [*(s.began_on for s in spells[1:]), until], strict=True))


def _inputs(
    alpha: Measured,
    spells: Sequence[StorageSpell],
    on: date,
    loss: SixMonthLoss,
    index: Measured | None,
) -> dict[str, object]:
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
            for spell, ends in _with_ends(spells, on)
            if ends > alpha.sampled_on or ends == on
        ],
    }


def _assumptions(
    spells: Sequence[StorageSpell], loss: SixMonthLoss, form: str, alpha: Measured
) -> tuple[str, ...]:
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


def _cautions(spells: Sequence[StorageSpell], form: str, index: Measured | None) -> tuple[str, ...]:
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
