"""A lot as a hop entry of BeerJSON; what the format has no place for stands in its notes."""

from collections.abc import Iterator, Mapping
from typing import Any

from service.errors import FigureMissing
from service.market.goods.lab_reports import Figures
from service.market.sheet.lot_view import LotView
from service.reference.methods import find_method
from service.reference.six_month_storage import six_month_loss
from service.science.interchange import percent_lost

VERSION = 2.06
WORD_BY_FORM = {
    "whole_cone": "leaf",
    "wet_hop": "leaf (wet)",
    "pellet": "pellet",
    "pellet_enriched": "pellet",
}
TYPE_BY_ROLE = {"aroma": "aroma", "bittering": "bittering", "dual": "aroma/bittering"}
# The parts of the oil that the format knows.
OIL_PARTS = (
    "humulene",
    "caryophyllene",
    "myrcene",
    "farnesene",
    "geraniol",
    "b_pinene",
    "linalool",
    "limonene",
    "nerol",
    "pinene",
)


def hop_document(view: LotView) -> dict[str, Any]:
    """A document with the lot as its only hop.

    Raises:
        FigureMissing: the format needs an alpha, and none was measured.

    """
    return {"beerjson": {"version": VERSION, "hop_varieties": [hop_entry(view)]}}


def hop_entry(view: LotView) -> dict[str, Any]:
    """The lot as analysed: alpha and beta of the report, the cultivar's six-month loss, oil, stock.

    Raises:
        FigureMissing: the format needs an alpha, and none was measured.

    """
    lot, figures = view.lot, view.figures
    if figures.alpha_percent is None:
        raise FigureMissing(
            f"a hop entry needs an alpha, and none was measured for lot {lot.code}",
            lot_code=lot.code,
            missing=["alpha_percent"],
        )
    entry: dict[str, Any] = {
        "name": lot.cultivar,
        "producer": view.grower.name,
        "product_id": lot.code,
        "origin": view.lot.origin_country or view.grower.country,
        "form": WORD_BY_FORM[lot.form],
        "type": TYPE_BY_ROLE[lot.role],
        "alpha_acid": _percent(figures.alpha_percent.value),
        "notes": " ".join(_notes(view)),
        "inventory": {"amount": {"unit": "kg", "value": float(lot.free_kg)}},
    }
    if lot.crop_year is not None:
        entry["year"] = str(lot.crop_year)
    if figures.beta_percent is not None:
        entry["beta_acid"] = _percent(figures.beta_percent.value)
    lost = _lost_percent(view)
    if lost is not None:
        entry["percent_lost"] = _percent(lost)
    oil = _oil(figures)
    if oil:
        entry["oil_content"] = oil
    return entry


def _percent(value: float) -> dict[str, Any]:
    return {"unit": "%", "value": value}


def _lost_percent(view: LotView) -> float | None:
    """The published loss in six months; a house default is not evidence and stays out."""
    loss = six_month_loss(view.lot.cultivar)
    index = view.figures.hop_storage_index
    return percent_lost(
        lost_in_six_months_percent=None if loss.is_assumption else loss.lost_percent,
        hop_storage_index=index.value if index else None,
    )


def _oil(figures: Figures) -> dict[str, Any]:
    shares: Mapping[str, float] = figures.oil_shares_percent or {}
    oil: dict[str, Any] = {part: _percent(shares[part]) for part in OIL_PARTS if part in shares}
    if figures.oil_ml_per_100g is not None:
        oil["total_oil_ml_per_100g"] = figures.oil_ml_per_100g.value
    if figures.cohumulone_percent_of_alpha is not None:
        # The format keeps it here, though it is a share of alpha and not of oil.
        oil["cohumulone"] = _percent(figures.cohumulone_percent_of_alpha.value)
    return oil


def _notes(view: LotView) -> Iterator[str]:
    lot, figures = view.lot, view.figures
    alpha = figures.alpha_percent
    if alpha is not None:
        method = find_method(alpha.method or "other", group="alpha_beta")
        name = method.name if method else "method not told"
        yield (
            f"Alpha as analysed by {alpha.laboratory} ({name}), report {alpha.report}, sampled on "
            f"{alpha.sampled_on} by the {alpha.drawn_by}; it falls in store."
        )
    if figures.hop_storage_index is not None:
        yield (
            f"Hop Storage Index (A275/A325) {figures.hop_storage_index.value:g}; percent_lost is another quantity."
        )
    if figures.moisture_percent is not None:
        yield f"Moisture {figures.moisture_percent.value:g} %."
    if figures.oil_shares_percent:
        basis = "share of peak area" if figures.oil_shares_basis == "peak_area" else "share of mass"
        yield f"Parts of the oil by {basis}."
    if figures.cohumulone_percent_of_alpha is not None:
        yield "Cohumulone is a share of alpha."
    if lot.form == "pellet_enriched":
        yield "Enriched pellets (type 45)."
    yield "Not a certificate of analysis."
