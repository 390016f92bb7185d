"""How alike one grower's lots of one cultivar are, and who may see it."""

from collections import Counter
from collections.abc import Callable, Sequence
from typing import TypeVar

from service.errors import NotAllowed, OutOfRange
from service.facts import Fact
from service.market.goods.lab_quantities import QUANTITY_OF
from service.market.goods.lab_reports import Figures, Measured, standing_figures
from service.market.goods.lots import Lot
from service.market.people.access import Caller
from service.reference.methods import find_method
from service.science.consistency import (
    RobustSpread,
    YearAndLotEffect,
    robust_spread,
    year_and_lot_effect,
)

T = TypeVar("T")
# House rule of when figures tell of a grower and not of a season; assumption, no source.
LEAST_LOTS = 5
LEAST_CROP_YEARS = 2
FIGURES = {
    name: QUANTITY_OF[name].group
    for name in ("alpha_percent", "oil_ml_per_100g", "moisture_percent", "hop_storage_index")
}
# Enriched pellets and wet hops have figures of their own kind.
FORMS = ("whole_cone", "pellet")
WORDS = (
    "Each lot counts once, as whole cones or type 90 pellets, with the figure that stands for it, as it was sampled; "
    "the Hop Storage Index therefore also tells how soon after picking a lot was sampled."
)


class Standing(Fact, frozen=True, kw_only=True):
    """Where one lot stands among the grower's lots; `robust_score` counts robust standard deviations from the median."""

    value: float
    rank_from_least: int
    of: int
    robust_score: float | None


class FigureConsistency(Fact, frozen=True, kw_only=True):
    """The spread of one figure; parts that too few lots carry are None, and `words` say why."""

    name: str
    n: int
    spread: RobustSpread | None
    effect: YearAndLotEffect | None
    standing: Standing | None
    left_out: int
    words: str


class Consistency(Fact, frozen=True, kw_only=True):
    """How alike one grower's lots of one cultivar are."""

    grower_code: str
    cultivar: str
    lots: int
    crop_years: tuple[int, ...]
    is_shown_to_brewers: bool
    consent_given: bool
    figures: tuple[FigureConsistency, ...]
    words: str


def consistency_of(
    lots: Sequence[Lot], *, grower_code: str, cultivar: str, consent_given: bool, lot_code: str | None = None
) -> Consistency:
    """Put together the spread of a grower's lots of a cultivar, and where one lot stands among them."""
    counted = [lot for lot in lots if lot.form in FORMS and lot.crop_year is not None]
    of_lot = {lot.code: standing_figures(lot.reports) for lot in counted}
    years = {lot.code: lot.crop_year for lot in counted if lot.crop_year is not None}
    crop_years = tuple(sorted(set(years.values())))
    enough = len(counted) >= LEAST_LOTS and len(crop_years) >= LEAST_CROP_YEARS
    return Consistency(
        grower_code=grower_code,
        cultivar=cultivar,
        lots=len(counted),
        crop_years=crop_years,
        is_shown_to_brewers=enough and consent_given,
        consent_given=consent_given,
        figures=tuple(_figure(name, of_lot, years, lot_code) for name in FIGURES),
        words=WORDS,
    )


def require_readable(found: Consistency, caller: Caller) -> None:
    """Let the grower and the specialist read always, brewers from five lots over two crop years and with consent.

    Raises:
        NotAllowed: the caller may not, or not yet.

    """
    if caller.acts_for("grower", found.grower_code) or found.is_shown_to_brewers:
        return
    if not found.consent_given:
        raise NotAllowed(f"{found.grower_code} does not show how its lots compare")
    raise NotAllowed(
        f"{found.grower_code} has too few lots of {found.cultivar} to show: brewers see it from {LEAST_LOTS} lots over"
        f" {LEAST_CROP_YEARS} crop years on"
    )


def _figure(
    name: str, of_lot: dict[str, Figures], years: dict[str, int], lot_code: str | None
) -> FigureConsistency:
    measured = {code: m for code, figures in of_lot.items() if (m := _value(figures, name)) is not None}
    alike, left_out = _of_like_methods(measured, FIGURES[name])
    values, crop_years = list(alike.values()), [years[code] for code in alike]
    spread = _or_none(lambda: robust_spread(values=values))
    effect = _or_none(lambda: year_and_lot_effect(values=values, crop_years=crop_years))
    return FigureConsistency(
        name=name,
        n=len(values),
        spread=spread,
        effect=effect,
        standing=_standing(alike, lot_code, spread),
        left_out=left_out,
        words=_words(spread, effect, left_out),
    )


def _value(figures: Figures, name: str) -> Measured | None:
    found: Measured | None = getattr(figures, name)
    return found


def _of_like_methods(measured: dict[str, Measured], group: str) -> tuple[dict[str, float], int]:
    """The figures by the methods that most lots share; others would add their method to the spread."""
    families = {code: _family(m, group) for code, m in measured.items()}
    if not families:
        return {}, 0
    common = min(Counter(families.values()).items(), key=lambda pair: (-pair[1], pair[0]))[0]
    alike = {code: m.value for code, m in measured.items() if families[code] == common}
    return alike, len(measured) - len(alike)


def _family(measured: Measured, group: str) -> str:
    known = find_method(measured.method or "other", group=group)
    return known.family if known else "other"


def _or_none(work: Callable[[], T]) -> T | None:
    try:
        return work()
    except OutOfRange:
        return None


def _standing(alike: dict[str, float], lot_code: str | None, spread: RobustSpread | None) -> Standing | None:
    if lot_code is None or lot_code not in alike or spread is None:
        return None
    value = alike[lot_code]
    return Standing(
        value=value,
        rank_from_least=1 + sum(other < value for other in alike.values()),
        of=len(alike),
        robust_score=(value - spread.median) / spread.robust_sd if spread.robust_sd > 0 else None,
    )


def _words(spread: RobustSpread | None, effect: YearAndLotEffect | None, left_out: int) -> str:
    said = []
    if spread is None:
        said.append("Fewer than two lots have this figure.")
    elif effect is None:
        said.append(
            "Year and lot cannot be told apart: that takes two crop years, one of them with two lots."
        )
    elif effect.is_year_effect_hidden:
        said.append(
            "The years differ by no more than their lots do; a year effect may be there and not be seen."
        )
    if left_out:
        said.append(f"{left_out} measured by methods that read differently are left out.")
    return " ".join(said)
