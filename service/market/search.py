"""What a brewery asks of the listed lots, and the light fact that answers."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.science.uncertainty import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchFigures:
    """What is kept of a listed lot, so that limits on a later day are linear in days.

    With d days since `day` (an ordinal): ln alpha = log_alpha - rate_per_day d, and the logarithm of the
    share of alpha + beta that remains = log_resin - rate_per_day d. `spread_low` and `spread_high` are how
    far the exponent may have been smaller or larger before `day`.
    """

    day: int | None = None
    log_alpha: float | None = None
    alpha_sd_log: float | None = None
    log_resin: float | None = None
    index_sd_log: float | None = None
    rate_per_day: float | None = None
    rate_low_per_day: float | None = None
    rate_high_per_day: float | None = None
    spread_low: float | None = None
    spread_high: float | None = None
    alpha_method: str | None = None
    oil_ml_per_100g: float | None = None
    moisture_percent: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LotLine:
    """One line of a search: columns, no more."""

    code: str
    grower_code: str
    cultivar: str
    crop_year: int | None
    form: str
    packing: str | None
    readiness: str
    alpha_percent: Estimate | None
    hop_storage_index: Estimate | None
    alpha_method: str | None
    oil_ml_per_100g: float | None
    free_kg: Decimal
    price_per_kg: Decimal | None
    currency: str | None
    distance_km: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LotWish:
    """The filters of a search, all that are given together."""

    on: date
    roles: tuple[str, ...] = ()
    cultivar_keys: tuple[str, ...] = ()
    known: bool | None = None
    crop_year: int | None = None
    form: str | None = None
    alpha_percent_min: float | None = None
    alpha_percent_max: float | None = None
    hop_storage_index_max: float | None = None
    oil_ml_per_100g_min: float | None = None
    free_kg_min: Decimal | None = None
    price_per_kg_max: Decimal | None = None
    currency: str | None = None
    method: str | None = None
    readiness: str | None = None
    near: tuple[float, float, float] | None = None
    within_km: float | None = None
    sort: str = "-harvested"
    sees_all_prices: bool = False
