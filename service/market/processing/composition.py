"""What a lot is made of: its parts by percent, each grower's share, and what was measured of the parts
before.

Pellets and blends are new goods without a report. Their parts' figures are shown here as measured before,
averaged by mass as analysed: storage between sampling and run is not taken off, and unlike methods are not
averaged. Search, matching, storage and bitterness do not use them, so growers need one analysis for each
run.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from service.facts import Fact
from service.market.goods.lab_reports import Figures, Measured, standing_figures
from service.market.goods.lots import Lot, Step
from service.market.people.access import Caller
from service.market.processing.steps import Edge, apportion
from service.market.storage.storage_rates import sd_log
from service.science.blending import blend_percent, blend_sd_log
from service.science.uncertainty import Estimate, lognormal_estimate

K = TypeVar("K")
# What may be averaged by mass; all as is, so that the masses fit.
RECKONED = ("alpha_percent", "beta_percent", "oil_ml_per_100g")
IN_WORDS = {"alpha_percent": "alpha", "beta_percent": "beta", "oil_ml_per_100g": "oil"}
AS_ANALYSED = (
    "Reckoned by mass from what was analysed of the parts, as is; what storage took since the sampling is not"
    " taken off, and nobody measured the product."
)


class OriginPart(Fact, frozen=True, kw_only=True):
    """One lot that went into another; what this caller must not know of it is None."""

    lot_code: str | None
    grower_code: str | None
    cultivar: str | None
    crop_year: int | None
    form: str
    mass_kg: Decimal | None
    brought_kg: Decimal | None
    share_percent: float
    figures: Figures | None


class LabelPart(Fact, frozen=True, kw_only=True):
    """One cultivar of one crop in a lot of several."""

    cultivar: str | None
    crop_year: int | None
    share_percent: float


class GrowerShare(Fact, frozen=True, kw_only=True):
    """What one grower has in a lot: kilograms brought, kilograms in it, and alpha acids brought, as analysed."""

    grower_code: str
    brought_kg: Decimal
    mass_kg: Decimal
    share_percent: float
    alpha_kg: Estimate | None


class Origin(Fact, frozen=True, kw_only=True):
    """Where a lot comes from, as far as this caller may know."""

    lot_code: str
    step: Step | None
    parts: tuple[OriginPart, ...]
    shares: tuple[GrowerShare, ...]
    alpha_percent: Estimate | None
    beta_percent: Estimate | None
    oil_ml_per_100g: Estimate | None
    words: tuple[str, ...]


def origin_of(
    lot: Lot,
    step: Step | None,
    edges: Sequence[Edge],
    lots: Mapping[str, Lot],
    *,
    caller: Caller,
    is_committed: bool,
) -> Origin:
    """Tell where a lot comes from.

    Its grower and the specialist know all of it, a brewery with a promise on it the parts but no kilograms, a grower
    who gave to it the own part, and anybody what a label would say: cultivar, crop year and percent.

    Args:
        lot: the lot.
        step: the step that made it.
        edges: everything it was made of, as far back as the books go.
        lots: the lots at both ends of the edges.
        caller: who asks.
        is_committed: whether that is a brewery with a promise on the lot.

    """
    into = sorted(
        (edge for edge in edges if edge.into_code == lot.code),
        key=lambda edge: (-edge.mass_kg, edge.from_code),
    )
    is_keeper = caller.acts_for("grower", lot.grower_code)
    parts = tuple(
        _part(edge, lots[edge.from_code], lot, step, caller, is_keeper=is_keeper, is_committed=is_committed)
        for edge in into
    )
    shares = shares_of(lot, step, edges, lots) if into else ()
    own = [s for s in shares if is_keeper or caller.is_party("grower", s.grower_code)]
    reckoned, words = _reckoned(into, lots, step)
    return Origin(
        lot_code=lot.code, step=step, parts=parts, shares=tuple(own), words=tuple(words), **reckoned
    )


def _part(
    edge: Edge,
    part: Lot,
    lot: Lot,
    step: Step | None,
    caller: Caller,
    *,
    is_keeper: bool,
    is_committed: bool,
) -> OriginPart:
    is_own = caller.acts_for("grower", part.grower_code)
    is_named = is_keeper or is_own or is_committed
    knows_grower = is_named or part.grower_code == lot.grower_code
    weighs = is_keeper or is_own
    return OriginPart(
        lot_code=part.code if is_named else None,
        grower_code=part.grower_code if knows_grower else None,
        cultivar=part.shown_cultivar,
        crop_year=part.crop_year,
        form=part.form,
        mass_kg=edge.mass_kg if weighs else None,
        brought_kg=edge.brought_kg if weighs else None,
        share_percent=float(100 * edge.mass_kg / lot.stock_kg),
        figures=figures_before(part, step) if knows_grower else None,
    )


def figures_before(part: Lot, step: Step | None) -> Figures:
    """What stands measured of a part until it went into the step."""
    until = step.done_on if step else date.max
    return standing_figures([report for report in part.reports if report.sampled_on <= until])


def shares_of(
    lot: Lot, step: Step | None, edges: Sequence[Edge], lots: Mapping[str, Lot]
) -> tuple[GrowerShare, ...]:
    """What each grower has in a lot, to the gram; the largest first.

    A part that was itself pooled counts for its growers by their shares in it.
    """
    into = [edge for edge in edges if edge.into_code == lot.code]
    of_parts = {edge.from_code: grower_fractions(lots[edge.from_code], edges, lots) for edge in into}
    fractions = grower_fractions(lot, edges, lots)
    growers = sorted(fractions, key=lambda code: (-fractions[code], code))
    masses = apportion(lot.stock_kg, [_decimal(fractions[code]) for code in growers])
    brought_in = sum((edge.brought_kg for edge in into), Decimal(0))
    brought_by = {
        code: sum((Fraction(e.brought_kg) * of_parts[e.from_code].get(code, 0) for e in into), Fraction(0))
        for code in growers
    }
    brought = apportion(brought_in, [_decimal(brought_by[code]) for code in growers])
    return tuple(
        GrowerShare(
            grower_code=code,
            brought_kg=brought_kg,
            mass_kg=mass_kg,
            share_percent=float(100 * fractions[code]),
            alpha_kg=_alpha_kg(code, into, of_parts, lots, step),
        )
        for code, mass_kg, brought_kg in zip(growers, masses, brought, strict=True)
    )


def grower_fractions(lot: Lot, edges: Sequence[Edge], lots: Mapping[str, Lot]) -> dict[str, Fraction]:
    """Which part of a lot each grower brought, through all steps before; what came from the yard is its grower's."""
    return _fractions(lot, edges, lots, lambda part: part.grower_code)


def label_parts(lot: Lot, edges: Sequence[Edge], lots: Mapping[str, Lot]) -> tuple[LabelPart, ...]:
    """What a label says of a lot of several cultivars or crops: each with its percent, the largest first."""
    found = _fractions(lot, edges, lots, lambda part: (part.shown_cultivar, part.crop_year))
    return tuple(
        LabelPart(cultivar=cultivar, crop_year=crop_year, share_percent=float(100 * share))
        for (cultivar, crop_year), share in sorted(found.items(), key=lambda item: (-item[1], str(item[0])))
    )


def _fractions(
    lot: Lot, edges: Sequence[Edge], lots: Mapping[str, Lot], told: Callable[[Lot], K]
) -> dict[K, Fraction]:
    """The shares of a lot by something that is told of the lots it began with."""
    found: dict[K, Fraction] = {}
    whole, came = Fraction(lot.stock_kg), Fraction(0)
    for edge in edges:
        if edge.into_code != lot.code:
            continue
        came += Fraction(edge.mass_kg)
        for key, share in _fractions(lots[edge.from_code], edges, lots, told).items():
            found[key] = found.get(key, Fraction(0)) + share * Fraction(edge.mass_kg) / whole
    rest = 1 - came / whole if whole else Fraction(1)
    if rest:
        found[told(lot)] = found.get(told(lot), Fraction(0)) + rest
    return found


def _decimal(share: Fraction) -> Decimal:
    return Decimal(share.numerator) / Decimal(share.denominator)


def _alpha_kg(
    grower: str,
    into: Sequence[Edge],
    of_parts: Mapping[str, Mapping[str, Fraction]],
    lots: Mapping[str, Lot],
    step: Step | None,
) -> Estimate | None:
    masses: list[float] = []
    alphas: list[tuple[Measured, str]] = []
    for edge in into:
        share = of_parts[edge.from_code].get(grower, Fraction(0))
        if not share:
            continue
        part = lots[edge.from_code]
        alpha = figures_before(part, step).alpha_percent
        if alpha is None:
            return None
        masses.append(float(Fraction(edge.brought_kg) * share))
        alphas.append((alpha, part.form))
    if not masses:
        return None
    percent = _mean("alpha_percent", masses, alphas)
    whole = sum(masses) / 100
    return Estimate(percent.estimate * whole, percent.low * whole, percent.high * whole)


def _mean(name: str, masses: Sequence[float], figures: Sequence[tuple[Measured, str]]) -> Estimate:
    values = [figure.value for figure, _ in figures]
    doubts = [sd_log(figure, name=name, form=form) for figure, form in figures]
    return lognormal_estimate(
        median=blend_percent(masses_kg=masses, values_percent=values),
        sd_log=blend_sd_log(masses_kg=masses, values_percent=values, sds_log=doubts),
    )


def _reckoned(
    into: Sequence[Edge], lots: Mapping[str, Lot], step: Step | None
) -> tuple[dict[str, Estimate | None], list[str]]:
    """Alpha, beta and oil of the whole by mass, each only from like methods on one basis; else why not."""
    found: dict[str, Estimate | None] = dict.fromkeys(RECKONED)
    if step is None or step.keeps_goods or step.kind == "drying" or not into:
        return found, []
    words = []
    masses = [float(edge.brought_kg) for edge in into]
    for name in RECKONED:
        of_parts = [getattr(figures_before(lots[edge.from_code], step), name) for edge in into]
        refused = _unlike(name, of_parts)
        if refused:
            words.append(refused)
            continue
        forms = [lots[edge.from_code].form for edge in into]
        found[name] = _mean(name, masses, list(zip(of_parts, forms, strict=True)))
    said = [AS_ANALYSED] if any(found.values()) else []
    return found, said + words


def _unlike(name: str, figures: Sequence[Measured | None]) -> str | None:
    what = IN_WORDS[name]
    measured = [figure for figure in figures if figure is not None]
    if len(measured) < len(figures):
        return f"No {what} of the whole: it was not measured, on a basis that is known, of every part."
    methods = sorted({figure.method or "no named method" for figure in measured})
    if len(methods) > 1:
        return f"No {what} of the whole: unlike methods ({', '.join(methods)}) are not averaged."
    if len(measured) > 1 and methods[0] in ("other", "no named method"):
        return f"No {what} of the whole: nobody knows that the parts were measured by like methods ({methods[0]})."
    return None
