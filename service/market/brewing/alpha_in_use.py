"""The alpha acids of hops on the day they are used: of a lot, as told, or as assumed for wet hops."""

import math
from collections.abc import Iterable, Sequence
from datetime import date

from service.errors import FigureMissing, InvalidRequest, NoStorageModel
from service.market.brewing.brews import Alpha
from service.market.goods.lab_reports import Figures, Measured, standing_figures
from service.market.goods.lots import PELLETS, Lot, StorageSpell
from service.market.storage.storage_model import StoragePlan, keeping_of
from service.market.storage.storage_rates import MODEL_TO_C, NOTHING_GONE, sd_log, with_ends
from service.market.storage.storage_words import keeping_words
from service.reference.assumptions import Assumption, get_assumption, sampling_cv
from service.reference.cautions import get_caution
from service.reference.cultivars import by_code
from service.reference.methods import find_method, get_method
from service.reference.packings import packing_used
from service.reference.six_month_storage import SixMonthLoss, six_month_loss
from service.science.beer_bitterness import AGED_HOPS_NOTE
from service.science.moisture import percent_at_moisture
from service.science.storage_index import resin_loss_percent
from service.science.uncertainty import (
    Estimate,
    HalfWidths,
    combine_half_widths,
    half_widths_from_sd,
    sd_log_from_cv,
)

# Aged from this hop storage index on: McMillan, Zunkel, Muñoz Insa, Schönberger 2023, BrewingScience 76.
AGED_INDEX = 0.40
AGED_LOSS_PERCENT = resin_loss_percent(hop_storage_index=AGED_INDEX)
# An interval that reaches so far in the logarithm spans a factor of over 20,000: no estimate any more.
WIDEST_LOG = 10.0
STORAGE_SOURCE = "M. Garetz 1994, Brewing Techniques 2(1): first-order storage loss and temperature rule"


def words_of(assumption: Assumption) -> str:
    """An assumption as an answer names it."""
    return f"{assumption.words} ({assumption.mark})"


def half_widths_of(assumption: Assumption) -> HalfWidths:
    """How far an assumed figure reaches below and above itself, in natural logarithms."""
    return HalfWidths(
        math.log(assumption.value / assumption.low), math.log(assumption.high / assumption.value)
    )


def alpha_of_lot(
    lot: Lot,
    *,
    basis: str,
    on: date,
    plan: StoragePlan | None = None,
    pointer: str = "#",
    figures: Figures | None = None,
) -> Alpha:
    """The alpha of a lot as analysed, or as estimated for a day; `pointer` says where the addition stands,
    `figures` are the lot's standing ones, if they were looked at before.

    Wet hops have no storage model: their alpha is as analysed, else assumed from the cultivar.

    Raises:
        FigureMissing: no alpha was measured of dried hops.
        NoStorageModel: nothing is known of how the lot is stored.
        InvalidRequest: the day lies before the sampling or ages after it, or the plan begins before what is
            recorded.

    """
    figures = figures or standing_figures(lot.reports)
    figure = figures.alpha_percent
    if figure is None:
        if lot.form == "wet_hop":
            return alpha_of_wet_hops(cultivar_code=lot.cultivar_code, lot_code=lot.code)
        raise FigureMissing(
            f"no alpha was measured for lot {lot.code}, named at {pointer}",
            lot_code=lot.code,
            missing=["alpha_percent"],
            pointer=f"{pointer}/lot_code",
        )
    measured = half_widths_from_sd(sd_log=sd_log(figure, name="alpha_percent", form=lot.form))
    if basis == "as_analysed" or lot.form == "wet_hop":
        return _as_analysed(lot, figure, measured, is_aged=_is_aged(figures, NOTHING_GONE))
    loss = six_month_loss(lot.cultivar)
    _accept_days(lot, figure, on, plan, pointer)
    keeping = keeping_of(lot, loss=loss, plan=plan)
    gone = keeping.exponent(since=figure.sampled_on, until=on)
    if gone.high - gone.estimate > WIDEST_LOG:
        text = f"after so long in store nothing can be said of the alpha of lot {lot.code} on {on}"
        raise InvalidRequest(text, errors=[{"pointer": "#/brewed_on", "detail": text}])
    return Alpha(
        percent=figure.value * math.exp(-gone.estimate),
        scatter={
            "measurement": measured,
            "storage": HalfWidths(gone.high - gone.estimate, gone.estimate - gone.low),
        },
        lot_code=lot.code,
        report=figure.report,
        method=figure.method,
        is_aged=_is_aged(figures, gone),
        assumptions=(
            *_measurement_words(figure, lot.form),
            *_storage_words(_used(keeping.spells, figure.sampled_on, on), loss, lot.form),
            *keeping_words(keeping, since=figure.sampled_on, until=on),
        ),
        cautions=_lot_cautions(lot.form, is_aged=_is_aged(figures, gone)),
        sources=(STORAGE_SOURCE,),
    )


def _as_analysed(lot: Lot, figure: Measured, measured: HalfWidths, *, is_aged: bool) -> Alpha:
    wet = ("Wet hops have no storage model: alpha is as analysed.",) if lot.form == "wet_hop" else ()
    return Alpha(
        percent=figure.value,
        scatter={"measurement": measured},
        lot_code=lot.code,
        report=figure.report,
        method=figure.method,
        is_aged=is_aged,
        assumptions=_measurement_words(figure, lot.form),
        cautions=(*wet, AGED_HOPS_NOTE) if is_aged else wet,
    )


def alpha_as_told(alpha_percent: float, *, form: str | None) -> Alpha:
    """Alpha that the caller gives: its scatter is a house figure, of cones where the form was not told."""
    taken = form or "whole_cone"
    method = get_method("other", group="alpha_beta")
    scatter = sampling_cv(quantity="alpha", form=taken)
    sd = math.hypot(
        sd_log_from_cv(cv_percent=method.between_laboratory_cv_percent),
        sd_log_from_cv(cv_percent=scatter.value),
    )
    words = [
        "alpha given in the request is taken as it stands, for the day of the brew",
        f"its method is not told: {method.between_laboratory_cv_percent:g} % between laboratories "
        f"({method.mark})",
        words_of(scatter),
        words_of(get_assumption("packages_cored_default")),
    ]
    if form is None:
        words.append("the form of the hops is not told: the scatter of whole cones, the widest, is taken")
    return Alpha(
        percent=alpha_percent,
        scatter={"measurement": half_widths_from_sd(sd_log=sd)},
        assumptions=tuple(words),
    )


def alpha_of_wet_hops(*, cultivar_code: str | None = None, lot_code: str | None = None) -> Alpha:
    """The alpha assumed for wet hops that nobody analysed: the cultivar's published one as picked, else a house one."""
    default = get_assumption("wet_hop_alpha_percent")
    cultivar = by_code(cultivar_code) if cultivar_code else None
    figure = cultivar.figure("alpha_percent") if cultivar else None
    if cultivar is None or figure is None:
        return Alpha(
            percent=default.value,
            scatter={"assumed alpha": half_widths_of(default)},
            lot_code=lot_code,
            assumptions=(words_of(default),),
            cautions=(WET_CAUTION,),
        )
    dry, wet = get_assumption("dry_hop_moisture_percent"), get_assumption("wet_hop_moisture_percent")

    def picked(percent: float, water: float) -> float:
        return percent_at_moisture(
            value_percent=percent, sample_moisture_percent=dry.value, wanted_moisture_percent=water
        )

    middle = picked(figure.middle, wet.value)
    published = HalfWidths(
        math.log(middle / picked(figure.low, wet.high)), math.log(picked(figure.high, wet.low) / middle)
    )
    # A single published mean says nothing of how lots differ, so the house's own width joins it.
    parts = [published, half_widths_of(default)] if figure.is_single_mean else [published]
    return Alpha(
        percent=middle,
        scatter={"assumed alpha": combine_half_widths(parts=parts)},
        lot_code=lot_code,
        assumptions=(
            f"wet hops of {cultivar.denomination} without an analysis are taken at {middle:.2g} % alpha as "
            f"picked, from {figure.low:g} to {figure.high:g} % published of dried hops ({figure.source})",
            words_of(dry),
            words_of(wet),
        ),
        cautions=(WET_CAUTION,),
        sources=(figure.source,),
    )


WET_CAUTION = "Nobody analysed these wet hops: the alpha is assumed, so the range is wide."


def _accept_days(lot: Lot, figure: Measured, on: date, plan: StoragePlan | None, pointer: str) -> None:
    if not lot.spells:
        raise NoStorageModel(
            f"lot {lot.code}, named at {pointer}, does not say how it is stored",
            lot_code=lot.code,
            pointer=f"{pointer}/lot_code",
        )
    if on < figure.sampled_on:
        text = f"lot {lot.code} was sampled on {figure.sampled_on}; {on} lies before it"
        raise InvalidRequest(text, errors=[{"pointer": "#/brewed_on", "detail": text}])
    if plan is not None and plan.from_on < lot.spells[-1].began_on:
        text = f"the plan begins before {lot.spells[-1].began_on}, from when lot {lot.code} is recorded"
        raise InvalidRequest(text, errors=[{"pointer": "#/storage/from", "detail": text}])


def _used(spells: Sequence[StorageSpell], since: date, until: date) -> list[StorageSpell]:
    return [s for s, ends in with_ends(spells, until) if ends > since and s.began_on < until]


def _is_aged(figures: Figures, gone: Estimate) -> bool:
    index = figures.hop_storage_index
    left = 1 - resin_loss_percent(hop_storage_index=index.value) / 100 if index else 1.0
    return 100 * (1 - left * math.exp(-gone.estimate)) > AGED_LOSS_PERCENT


def _lot_cautions(form: str, *, is_aged: bool) -> tuple[str, ...]:
    said = []
    if form in PELLETS:
        said.append(get_caution("pellets_by_cones").words)
    if is_aged:
        said.append(AGED_HOPS_NOTE)
    return tuple(said)


def _measurement_words(figure: Measured, form: str) -> tuple[str, ...]:
    said = [words_of(sampling_cv(quantity="alpha", form=form))]
    if figure.packages_cored is None:
        said.append(words_of(get_assumption("packages_cored_default")))
    method = find_method(figure.method or "other", group="alpha_beta")
    if method is not None and figure.stated_sd is None:
        said.append(
            f"{method.name}: {method.between_laboratory_cv_percent:g} % between laboratories ({method.mark})"
        )
    return tuple(said)


def _storage_words(spells: Iterable[StorageSpell], loss: SixMonthLoss, form: str) -> list[str]:
    stored = list(spells)
    names = [*loss.assumptions, "storage_rate_spread_ratio", "storage_temperature_spread_c"]
    if any(s.stored_at_c > MODEL_TO_C for s in stored):
        names.append("above_20_c_rate_ratio")
    if form in PELLETS:
        names.append("pellet_rate_ratio")
    said = [words_of(get_assumption(name)) for name in names]
    for code, oxygen in dict.fromkeys((s.packing, s.residual_oxygen_percent) for s in stored):
        used = packing_used(code, residual_oxygen_percent=oxygen)
        packing = used.packing
        said.append(
            f"{packing.name}: factor {packing.factor:g} ({packing.mark}), {packing.low:g} to {packing.high:g} "
            f"({packing.interval_mark})"
        )
        if used.reason:
            said.append(used.reason)
    return said
