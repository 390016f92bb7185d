"""What matching looks at: the columns of many lots as one light fact, and in full only the lots that are shown."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np

from service.facts import Fact, field
from service.market.goods.lots import Package
from service.market.goods.provenance import Certification
from service.market.matching.evidence import Evidence
from service.market.matching.oil_similarity import OilAlike
from service.market.matching.search import SearchFigures
from service.science.arrays import Numbers

Floats = Numbers


class Candidate(Fact, frozen=True, kw_only=True):
    """One listed lot in full: what is said of a lot that is shown."""

    code: str
    grower_code: str
    cultivar: str
    cultivar_key: str
    role: str
    form: str
    packing: str | None = None
    readiness: str = "analysed"
    free_kg: Decimal
    price_per_kg: Decimal | None = None
    currency: str | None = None
    distance_km: float
    order_kg_min: Decimal | None = None
    sold_in: str = "any_mass"
    packages: tuple[Package, ...] = ()
    origin_country: str | None = None
    origin_subdivision: str | None = None
    certifications: tuple[Certification, ...] = ()
    figures: SearchFigures = field(default_factory=SearchFigures)

    @property
    def evidence(self) -> Evidence:
        """What stands behind the lot's alpha."""
        kept = self.figures
        return Evidence(
            reports=kept.alpha_reports or 0,
            method=kept.alpha_method,
            drawn_by=kept.alpha_drawn_by,
            packages_cored=kept.alpha_packages_cored,
            alpha_spread=kept.alpha_spread,
        )


class LotColumns(Fact, frozen=True, kw_only=True):
    """Many candidates, column by column, as much of them as limits and scores need; NaN where nothing was measured.

    `packages` holds those of the lots sold in whole packages, `certifications` those of all where they were asked for,
    by the lot's place; `oil_alike` is compared only for a request that wishes for an oil profile. From `kept_from_day`
    on a lot lies in a brewery's store and loses acids at `kept_rate_per_day`.
    """

    code: Sequence[str]
    grower_code: Sequence[str]
    cultivar: Sequence[str]
    cultivar_key: Sequence[str]
    role: Sequence[str]
    form: Sequence[str]
    packing: Sequence[str | None]
    free_kg: Floats
    price_per_kg: Floats
    currency: Sequence[str | None]
    distance_km: Floats
    order_kg_min: Floats
    sold_in: Sequence[str]
    origin_country: Sequence[str | None]
    origin_subdivision: Sequence[str | None]
    packages: Mapping[int, tuple[Package, ...]] = field(default_factory=dict)
    certifications: Mapping[int, tuple[Certification, ...]] = field(default_factory=dict)
    day: Floats
    log_alpha: Floats
    log_resin: Floats
    rate_per_day: Floats
    base_rate_per_day: Floats
    learnt_rate_per_day: Floats
    learnt_packings: Sequence[str | None]
    kept_from_day: float | None = None
    kept_rate_per_day: Floats | None = None
    oil_ml_per_100g: Floats
    moisture_percent: Floats
    alpha_method: Sequence[str | None]
    alpha_drawn_by: Sequence[str | None]
    alpha_reports: Floats
    alpha_packages_cored: Floats
    alpha_spread: Floats
    oil_alike: OilAlike | None = None

    def __len__(self) -> int:
        return len(self.code)

    def log_alpha_on(self, on: date) -> Floats:
        """The logarithm of alpha on a day."""
        return self.log_alpha - self._gone(on)

    def log_resin_on(self, on: date) -> Floats:
        """The logarithm of the share of alpha + beta that is left on a day."""
        return self.log_resin - self._gone(on)

    def _gone(self, on: date) -> Floats:
        day = float(on.toordinal())
        if self.kept_from_day is None or self.kept_rate_per_day is None or day <= self.kept_from_day:
            return self.rate_per_day * (day - self.day)
        # A lot that was sampled later was still at its grower's.
        handed = np.fmax(self.kept_from_day, self.day)
        return self.rate_per_day * (handed - self.day) + self.kept_rate_per_day * (day - handed)


OWN_TEXTS = (
    "code",
    "cultivar",
    "cultivar_key",
    "role",
    "form",
    "packing",
    "currency",
    "sold_in",
    "origin_country",
    "origin_subdivision",
)
OWN_NUMBERS = ("free_kg", "price_per_kg", "order_kg_min")
FIGURE_TEXTS = ("alpha_method", "alpha_drawn_by", "learnt_packings")
FIGURE_NUMBERS = (
    "day",
    "log_alpha",
    "log_resin",
    "rate_per_day",
    "base_rate_per_day",
    "learnt_rate_per_day",
    "oil_ml_per_100g",
    "moisture_percent",
    "alpha_reports",
    "alpha_packages_cored",
    "alpha_spread",
)


def number(value: float) -> float | None:
    """A number of a column; None where there was none."""
    return None if np.isnan(value) else float(value)


def column(values: Sequence[float | Decimal | int | None]) -> Floats:
    """A column of numbers, with NaN for None.

    >>> column([Decimal("1.5"), None])
    array([1.5, nan])

    """
    return np.array(values, dtype=np.float64)


def columns_of(candidates: Sequence[Candidate]) -> LotColumns:
    """Put candidates side by side."""
    made: dict[str, Any] = {name: [getattr(c, name) for c in candidates] for name in OWN_TEXTS}
    made |= {name: column([getattr(c, name) for c in candidates]) for name in (*OWN_NUMBERS, "distance_km")}
    made |= {name: [getattr(c.figures, name) for c in candidates] for name in FIGURE_TEXTS}
    made |= {name: column([getattr(c.figures, name) for c in candidates]) for name in FIGURE_NUMBERS}
    return LotColumns(
        **made,
        grower_code=[c.grower_code for c in candidates],
        packages={
            place: c.packages
            for place, c in enumerate(candidates)
            if c.packages and c.sold_in == "whole_packages"
        },
        certifications={place: c.certifications for place, c in enumerate(candidates) if c.certifications},
    )
