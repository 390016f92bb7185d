"""What matching looks at: the columns of many lots as one light fact."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import date
from decimal import Decimal
from typing import Any

from service.market.evidence import NO_EVIDENCE, Evidence
from service.market.lots import Package
from service.market.search import SearchFigures
from service.science.arrays import Numbers, np

Floats = Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One listed lot, as much of it as matching needs."""

    code: str
    grower_code: str
    cultivar: str
    cultivar_key: str
    role: str
    form: str
    packing: str | None = None
    readiness: str = "analysed"
    crop_year: int | None = None
    free_kg: Decimal
    price_per_kg: Decimal | None = None
    currency: str | None = None
    distance_km: float
    order_kg_min: Decimal | None = None
    sold_in: str = "any_mass"
    packages: tuple[Package, ...] = ()
    figures: SearchFigures = field(default_factory=SearchFigures)
    evidence: Evidence = NO_EVIDENCE


@dataclass(frozen=True, slots=True, kw_only=True)
class LotColumns:
    """Many candidates, column by column; NaN where nothing was measured or said."""

    code: Sequence[str]
    grower_code: Sequence[str]
    cultivar: Sequence[str]
    cultivar_key: Sequence[str]
    role: Sequence[str]
    form: Sequence[str]
    packing: Sequence[str | None]
    readiness: Sequence[str]
    crop_year: Sequence[int | None]
    free_kg: Floats
    price_per_kg: Floats
    currency: Sequence[str | None]
    distance_km: Floats
    order_kg_min: Floats
    sold_in: Sequence[str]
    packages: Mapping[int, tuple[Package, ...]] = field(default_factory=dict)
    evidence: Sequence[Evidence]
    day: Floats
    log_alpha: Floats
    alpha_sd_log: Floats
    log_resin: Floats
    index_sd_log: Floats
    rate_per_day: Floats
    rate_low_per_day: Floats
    rate_high_per_day: Floats
    spread_low: Floats
    spread_high: Floats
    index_spread_low: Floats
    index_spread_high: Floats
    alpha_method: Sequence[str | None]
    oil_ml_per_100g: Floats
    moisture_percent: Floats

    def __len__(self) -> int:
        return len(self.code)

    def log_alpha_on(self, on: date) -> Floats:
        """The logarithm of alpha on a day."""
        return self.log_alpha - self.rate_per_day * (on.toordinal() - self.day)

    def log_resin_on(self, on: date) -> Floats:
        """The logarithm of the share of alpha + beta that is left on a day."""
        return self.log_resin - self.rate_per_day * (on.toordinal() - self.day)

    def figures_of(self, place: int) -> SearchFigures:
        """The figures of one lot."""
        kept: dict[str, object] = {name: number(getattr(self, name)[place]) for name in FIGURE_NUMBERS}
        day = kept.pop("day")
        return SearchFigures(
            day=None if day is None else int(float(str(day))),
            alpha_method=self.alpha_method[place],
            **kept,  # type: ignore[arg-type]  # every other figure is a float or None
        )


FIGURE_NUMBERS = tuple(f.name for f in fields(SearchFigures) if f.name != "alpha_method")


def number(value: float) -> float | None:
    """A number of a column; None where there was none."""
    return None if np.isnan(value) else float(value)


def column(values: Sequence[float | Decimal | int | None]) -> Floats:
    """A column of numbers, with NaN for None.

    >>> column([Decimal("1.5"), None])
    array([1.5, nan])

    """
    return np.array([np.nan if v is None else float(v) for v in values], dtype=np.float64)


def columns_of(candidates: Sequence[Candidate]) -> LotColumns:
    """Put candidates side by side."""
    texts = (
        "code",
        "grower_code",
        "cultivar",
        "cultivar_key",
        "role",
        "form",
        "packing",
        "readiness",
        "crop_year",
        "currency",
        "sold_in",
        "evidence",
    )
    numbers = ("free_kg", "price_per_kg", "distance_km", "order_kg_min")
    made: dict[str, Any] = {name: [getattr(c, name) for c in candidates] for name in texts}
    made |= {name: column([getattr(c, name) for c in candidates]) for name in numbers}
    made |= {name: column([getattr(c.figures, name) for c in candidates]) for name in FIGURE_NUMBERS}
    return LotColumns(
        **made,
        alpha_method=[c.figures.alpha_method for c in candidates],
        packages={place: c.packages for place, c in enumerate(candidates) if c.packages},
    )
