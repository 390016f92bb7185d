"""What an estimated bitterness rests on, in words: assumptions, cautions, sources."""

from collections.abc import Iterator

from service.market.brewing.alpha_in_use import words_of
from service.market.brewing.brews import Brew
from service.market.brewing.calibrations import OwnUtilization
from service.market.brewing.methods import Method, rows_used, sources_cited
from service.reference.cautions import get_caution
from service.science.beer_bitterness import is_above_solubility, is_unlikely
from service.science.brewhouse import FEWEST_BREWS
from service.science.uncertainty import Estimate

HAHN = "Hahn et al. 2018, J. Agric. Food Chem. 66:3505, doi 10.1021/acs.jafc.7b05784: humulinones"


def assumptions_of(brew: Brew, *, method: Method) -> tuple[str, ...]:
    """Every assumption that the estimate rests on, each once."""
    return tuple(dict.fromkeys(_assumptions(brew, method)))


def _assumptions(brew: Brew, method: Method) -> Iterator[str]:
    yield "form factor 1.00 where none was given (common practice, no source)"
    yield from method.words(brew)
    for row in rows_used(method, brew):
        yield words_of(row)
    for addition in brew.additions:
        yield from addition.alpha.assumptions


# No beer is more bitter than the one, and no hop is sold with less alpha than the other: house figures that catch
# slips of the unit.
IBU_BEYOND_BEER = 500.0
SHARE_NOT_PERCENT = 0.3


def brew_cautions(brew: Brew, *, total: Estimate | None, alpha_mg_per_l: float) -> tuple[str, ...]:
    """What a reader of the whole estimate should know."""
    codes = ["estimate", "ibu_is_not_iso"]
    if is_above_solubility(alpha_added_mg_per_l=alpha_mg_per_l):
        codes.append("alpha_solubility")
    if total is not None and is_unlikely(estimated_ibu=total.estimate):
        codes.append("ibu_over_100")
    if total is not None and total.estimate > IBU_BEYOND_BEER:
        codes.append("volume_may_be_hectolitres")
    if any(0 < a.alpha.percent < SHARE_NOT_PERCENT and a.alpha.lot_code is None for a in brew.additions):
        codes.append("alpha_may_be_a_share")
    if len({a.alpha.method for a in brew.additions if a.alpha.method}) > 1:
        codes.append("methods_differ")
    return tuple(get_caution(code).words for code in codes)


def sources_of(brew: Brew, *, method: Method) -> tuple[str, ...]:
    """Where formulas and figures come from, each once."""
    dry = (HAHN,) if any(addition.at == "dry_hop" for addition in brew.additions) else ()
    of_alpha = [source for addition in brew.additions for source in addition.alpha.sources]
    return tuple(dict.fromkeys([*sources_cited(method, brew), *dry, *of_alpha]))


def own_words(own: OwnUtilization) -> str:
    """What a brewery's measured brews do for an answer, or could do."""
    if own.is_used:
        return f"Reckoned with the utilization that follows from {own.brews} measured brews."
    left = "which leaves little more than the interval of alpha alone once the brews agree"
    if own.brews >= FEWEST_BREWS:
        return f"{own.brews} measured brews are kept: method brewhouse reckons with them, {left}."
    return f"{own.brews} measured brews are kept; from {FEWEST_BREWS} on method brewhouse reckons with them, {left}."
