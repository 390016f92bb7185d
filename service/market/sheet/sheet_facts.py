"""Everything a lot spec sheet prints, worked out before the first letter is drawn."""

import hashlib
import json
from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from service.facts import Fact, field_names
from service.market.goods.lab_quantities import QUANTITY_OF
from service.market.goods.lab_reports import Figures, Measured
from service.market.goods.lots import Lot
from service.market.sheet.lot_view import LotView
from service.market.sheet.sheet_doses import Dose, doses_for
from service.market.storage.storage import StorageOutlook, storage_outlook
from service.market.storage.storage_model import StoragePlan, keeping_of, planned_spells
from service.market.storage.storage_rates import NOTHING_GONE, after_days, sd_log
from service.reference.cautions import get_caution
from service.reference.cultivars import Figure, by_code
from service.reference.six_month_storage import SixMonthLoss
from service.science.oil import MOST_OIL_ML_PER_100G, oil_dosed_ml_per_hl
from service.science.storage_spread import alpha_left_estimate
from service.science.uncertainty import Estimate

MONTHS_TO_COME = 18
DAYS_PER_MONTH = 30.4375
# Three places a brewer may have; the temperatures are house choices.
STORAGES_C = {"frozen": -18.0, "cold": 4.0, "cellar": 12.0}
OIL_DOSE_G_PER_HL = 100.0


class AlphaPoint(Fact, frozen=True, kw_only=True):
    """The alpha estimated for one day."""

    months: int
    on: date
    alpha_percent: Estimate


class AlphaCourse(Fact, frozen=True, kw_only=True):
    """The alpha month by month in one storage, packed as the lot is now."""

    storage: str
    kept_at_c: float
    packing: str
    points: tuple[AlphaPoint, ...]


class LotSheetFacts(Fact, frozen=True, kw_only=True):
    """Everything a lot spec sheet prints; a revision of None is a preview, never issued.

    `without_storage` says why nothing is reckoned of the storage: `announced`, `wet_hop`, `no_alpha` or
    `not_stored`. `alpha_used` is the alpha that the doses count with, estimated for `alpha_used_on`.
    """

    view: LotView
    printed_on: date
    revision: int | None
    public_url: str
    published: tuple[Figure, ...]
    outlook: StorageOutlook | None
    without_storage: str | None
    courses: tuple[AlphaCourse, ...]
    alpha_used: Estimate | None
    alpha_used_on: date | None
    doses: tuple[Dose, ...]
    oil_ml_per_hl: float | None
    cautions: tuple[str, ...]

    @property
    def fingerprint(self) -> str:
        """The SHA-256 of what is printed, written as canonical JSON: the same facts, the same sixty-four signs."""
        text = json.dumps(
            _plain(printed(self)), ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
        )
        return hashlib.sha256(text.encode()).hexdigest()


def lot_sheet_facts(
    view: LotView,
    *,
    today: date,
    public_url: str,
    revision: int | None,
    loss: SixMonthLoss,
    kept_at: str | None = None,
) -> LotSheetFacts:
    """Work out everything the spec sheet of a lot prints.

    Args:
        view: the lot as it is shown.
        today: the day of the sheet.
        public_url: the address of this lot, for the QR code.
        revision: the number under which the sheet is issued; None for a preview.
        loss: the six-month loss of the cultivar.
        kept_at: the one storage to come that is drawn, a key of `STORAGES_C`; None draws all three.

    """
    lot, alpha = view.lot, view.figures.alpha_percent
    without = _without_storage(view)
    start = _first_day(lot, alpha, today)
    outlook = storage_outlook(lot, on=start, loss=loss) if without is None else None
    courses = _courses(lot, alpha, start, loss) if without is None and alpha else ()
    courses = tuple(course for course in courses if kept_at in (None, course.storage))
    used, used_on = (outlook.alpha_percent, start) if outlook else _as_analysed(view)
    known = by_code(lot.cultivar_code) if lot.cultivar_code else None
    published = known.figures if known else ()
    return LotSheetFacts(
        view=view,
        printed_on=today,
        revision=revision,
        public_url=public_url,
        published=published,
        outlook=outlook,
        without_storage=without,
        courses=courses,
        alpha_used=used,
        alpha_used_on=used_on,
        doses=doses_for(used) if used else (),
        oil_ml_per_hl=_oil_ml_per_hl(view.figures.oil_ml_per_100g),
        cautions=_cautions(view, outlook, published, doses_shown=used is not None),
    )


def _without_storage(view: LotView) -> str | None:
    if view.lot.form == "wet_hop":
        return "wet_hop"
    if view.lot.harvested_on is None:
        return "announced"
    if view.figures.alpha_percent is None:
        return "no_alpha"
    return None if view.lot.spells else "not_stored"


def _first_day(lot: Lot, alpha: Measured | None, today: date) -> date:
    """The day the outlook begins: today, unless the sampling or the storage is dated a day ahead."""
    days = [today, *(spell.began_on for spell in lot.spells[-1:])]
    return max(days + ([alpha.sampled_on] if alpha else []))


def _as_analysed(view: LotView) -> tuple[Estimate | None, date | None]:
    alpha = view.figures.alpha_percent
    if alpha is None:
        return None, None
    sd = sd_log(alpha, name="alpha_percent", form=view.lot.form)
    measured = alpha_left_estimate(alpha_percent=alpha.value, alpha_sd_log=sd, log_loss=NOTHING_GONE)
    return measured, alpha.sampled_on


def _courses(lot: Lot, alpha: Measured, start: date, loss: SixMonthLoss) -> tuple[AlphaCourse, ...]:
    keeping = keeping_of(lot, loss=loss)
    before = keeping.exponent(since=alpha.sampled_on, until=start)
    sd = sd_log(alpha, name="alpha_percent", form=lot.form)
    packing = lot.spells[-1].packing

    def course(storage: str, kept_at_c: float) -> AlphaCourse:
        plan = StoragePlan(from_on=start, kept_at_c=kept_at_c, packing=packing)
        rate = keeping.rate_in(planned_spells(lot, plan)[-1])
        points = []
        for months in range(MONTHS_TO_COME + 1):
            days = round(months * DAYS_PER_MONTH)
            gone = after_days(before, rate, days)
            left = alpha_left_estimate(alpha_percent=alpha.value, alpha_sd_log=sd, log_loss=gone)
            on = start + timedelta(days=days)
            points.append(AlphaPoint(months=months, on=on, alpha_percent=left))
        return AlphaCourse(storage=storage, kept_at_c=kept_at_c, packing=packing, points=tuple(points))

    return tuple(course(storage, kept_at_c) for storage, kept_at_c in STORAGES_C.items())


def _oil_ml_per_hl(oil: Measured | None) -> float | None:
    if oil is None or oil.value > MOST_OIL_ML_PER_100G:
        return None
    return oil_dosed_ml_per_hl(dose_g_per_hl=OIL_DOSE_G_PER_HL, oil_ml_per_100g=oil.value)


def _cautions(
    view: LotView, outlook: StorageOutlook | None, published: tuple[Figure, ...], *, doses_shown: bool
) -> tuple[str, ...]:
    """What a reader should heed: first what is unusual in this lot, then what holds for every lot like it."""
    alpha = view.figures.alpha_percent
    flagged = {flag.words: f"{flag.words} ({flag.source})" for flag in view.flags}
    said = [flagged.get(words, words) for words in (*flagged, *(outlook.cautions if outlook else ()))]
    general = [
        (alpha is not None and alpha.drawn_by != "official", "sample_speaks_for_sample"),
        (doses_shown, "ibu_is_not_iso"),
        (any(f.is_single_mean and getattr(view.figures, f.quantity, None) for f in published), "single_mean"),
        (view.lot.form == "wet_hop", "harvest_interval"),
    ]
    said += [get_caution(code).words for holds, code in general if holds]
    return tuple(dict.fromkeys(said))


LOT_PRINTED = (
    "code",
    "cultivar",
    "cultivar_code",
    "role",
    "form",
    "readiness",
    "crop_year",
    "harvested_on",
    "harvested_until",
    "harvest_window_from",
    "harvest_window_to",
    "mass_kg",
    "expected_kg",
    "own_lot_number",
    "block",
    "origin_country",
    "origin_subdivision",
    "packages",
    "spells",
)
GROWER_PRINTED = ("code", "name", "locality", "country")
REPORT_PRINTED = (
    "code",
    "laboratory",
    "drawn_by",
    "sampled_on",
    "analysed_on",
    "packages_cored",
    "basis",
    "alpha_percent",
    "beta_percent",
    "hop_storage_index",
    "methods",
    "method_note",
    "before_pelletizing",
    "corrects",
    "corrected_by",
    "reason",
)
NOT_AS_THEY_ARE = ("view", "outlook")


def printed(facts: LotSheetFacts) -> dict[str, object]:
    """What of the facts is printed; prices, holds, e-mail addresses and buyers' own reports are not."""
    view, outlook = facts.view, facts.outlook
    reports = [report for report in view.lot.reports if report.drawn_by != "buyer"]
    return {
        "lot": {name: getattr(view.lot, name) for name in LOT_PRINTED},
        "grower": {name: getattr(view.grower, name) for name in GROWER_PRINTED},
        "figures": {
            name: figure
            for name in field_names(Figures)
            if (figure := getattr(view.figures, name)) is not None
            or name not in QUANTITY_OF
            or QUANTITY_OF[name].is_always_printed
        },
        "reports": [{name: getattr(report, name) for name in REPORT_PRINTED} for report in reports],
        "planting": view.planting,
        "certifications": view.certifications,
        "spray_record": view.spray_record,
        "physical_quality": view.physical_quality,
        "role_mark": view.role_mark,
        "outlook": [outlook.alpha_percent, outlook.hop_storage_index, outlook.on] if outlook else None,
        **{name: getattr(facts, name) for name in field_names(LotSheetFacts) if name not in NOT_AS_THEY_ARE},
    }


def _plain(value: Any) -> Any:
    """Write a fact in the few kinds that JSON knows; nine digits, so that two machines write the same."""
    if isinstance(value, float):
        return float(f"{value:.9g}")
    if value is None or isinstance(value, str | int):
        return value
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, Mapping):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, date):
        return value.isoformat()
    return {name: _plain(getattr(value, name)) for name in field_names(type(value))}
