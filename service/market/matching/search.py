"""What a search for listed lots asks, and the line that answers it.

A listed lot keeps ln alpha, the logarithm of the remaining alpha and beta acids, and its rate of loss. A
limit on a later day is then linear in days, and the database filters and sorts by it. Lots that are sold
out stay in the search, with `free_kg` 0: hiding them would change pages under a reader whenever a hold
expires. A price limit needs a currency and keeps lots whose price is by agreement: they neither pass nor
fail it.
"""

from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from service.errors import InvalidRequest
from service.facts import Fact
from service.market.goods.provenance import ShownCertification, origin_faults
from service.market.people.parties import unit_vector
from service.reference.names import fold
from service.science.uncertainty import Estimate


class SearchFigures(Fact, frozen=True, kw_only=True):
    """What is kept of a listed lot, so that limits on a later day are linear in days.

    With d days since `day` (an ordinal): ln alpha = log_alpha - rate_per_day d, and the logarithm of the
    share of alpha + beta that remains = log_resin - rate_per_day d. `spread_low` and `spread_high` are how
    far the exponent may have been smaller or larger before `day`. The `alpha_…` figures at the
    end say what stands behind the alpha.
    """

    day: int | None = None
    log_alpha: float | None = None
    alpha_sd_log: float | None = None
    log_resin: float | None = None
    index_sd_log: float | None = None
    rate_per_day: float | None = None
    rate_low_per_day: float | None = None
    rate_high_per_day: float | None = None
    base_rate_per_day: float | None = None
    learnt_rate_per_day: float | None = None
    learnt_packings: str | None = None
    spread_low: float | None = None
    spread_high: float | None = None
    index_spread_low: float | None = None
    index_spread_high: float | None = None
    alpha_method: str | None = None
    oil_ml_per_100g: float | None = None
    moisture_percent: float | None = None
    alpha_reports: int | None = None
    alpha_drawn_by: str | None = None
    alpha_packages_cored: int | None = None
    alpha_spread: float | None = None


# Counted up whenever the sums behind the kept figures change: `oastbook migrate` then keeps every listed lot's anew.
FIGURES_VERSION = 3


class LotLine(Fact, frozen=True, kw_only=True):
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
    origin_country: str | None = None
    origin_subdivision: str | None = None
    certifications: tuple[ShownCertification, ...] = ()


class LotWish(Fact, frozen=True, kw_only=True):
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
    origin_country: str | None = None
    origin_subdivision: str | None = None
    certification: str | None = None
    near: tuple[float, float, float] | None = None
    within_km: float | None = None
    sort: str = "-harvested"
    sees_all_prices: bool = False


SORTS = ("distance", "-distance", "alpha", "-alpha", "price", "-price", "harvested", "-harvested")
# A lot of a dual cultivar serves either role.
FINDS = {"aroma": ("aroma", "dual"), "bittering": ("bittering", "dual"), "dual": ("dual",)}
PLAIN_FILTERS = (
    "known",
    "crop_year",
    "form",
    "alpha_percent_min",
    "alpha_percent_max",
    "hop_storage_index_max",
    "oil_ml_per_100g_min",
    "free_kg_min",
    "price_per_kg_max",
    "currency",
    "method",
    "readiness",
    "origin_country",
    "origin_subdivision",
    "certification",
    "within_km",
)


def wish_of(
    asked: Mapping[str, Any], *, cultivar_keys: tuple[str, ...], today: date, sees_all_prices: bool
) -> LotWish:
    """Put the filters of a search together, or name those that do not go together.

    Raises:
        InvalidRequest: one error for each parameter.

    """
    faults = list(_faults(asked, today))
    if faults:
        raise InvalidRequest(
            "; ".join(text for _, text in faults),
            errors=[{"parameter": name, "detail": text} for name, text in faults],
        )
    latitude, longitude = asked.get("near_latitude_deg"), asked.get("near_longitude_deg")
    near = None
    if latitude is not None and longitude is not None:
        near = unit_vector(latitude_deg=latitude, longitude_deg=longitude)
    return LotWish(
        on=asked.get("on") or today,
        roles=FINDS[asked["role"]] if asked.get("role") else (),
        cultivar_keys=cultivar_keys,
        near=near,
        sort=asked.get("sort") or "-harvested",
        sees_all_prices=sees_all_prices,
        **{name: asked.get(name) for name in PLAIN_FILTERS},
    )


def _faults(asked: Mapping[str, Any], today: date) -> Iterator[tuple[str, str]]:
    if asked.get("on") is not None and asked["on"] < today:
        yield "on", f"the day is today ({today}) or later"
    placed = (asked.get("near_latitude_deg") is not None, asked.get("near_longitude_deg") is not None)
    sort = (asked.get("sort") or "").lstrip("-")
    if placed[0] != placed[1]:
        missing = "near_longitude_deg" if placed[0] else "near_latitude_deg"
        yield missing, "a place is given by latitude and longitude together"
    if not all(placed):
        if asked.get("within_km") is not None:
            yield "within_km", "within_km needs near_latitude_deg and near_longitude_deg"
        if sort == "distance":
            yield "sort", "an order by distance needs near_latitude_deg and near_longitude_deg"
    if asked.get("currency") is None:
        if asked.get("price_per_kg_max") is not None:
            yield (
                "price_per_kg_max",
                "a price limit needs its currency; prices are never compared across currencies",
            )
        if sort == "price":
            yield "sort", "an order by price needs currency; prices are never compared across currencies"
    subdivision = asked.get("origin_subdivision")
    # A subdivision alone says its country.
    yield from origin_faults(asked.get("origin_country") or (subdivision or "")[:2] or None, subdivision)
    if asked.get("certification") is not None and not fold(asked["certification"]):
        yield "certification", "a scheme's name holds letters or digits"
    low, high = asked.get("alpha_percent_min"), asked.get("alpha_percent_max")
    if low is not None and high is not None and low > high:
        yield "alpha_percent_min", f"the lower limit {low:g} is over the upper one {high:g}"
