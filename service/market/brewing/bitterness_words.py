"""What an estimated bitterness rests on, in words: assumptions, cautions, sources, inputs that were not used."""

from collections.abc import Iterator

from service.market.brewing.alpha_in_use import words_of
from service.market.brewing.brews import HOT, Brew
from service.market.brewing.utilizations import WHIRLPOOL_CONVENTION, boil_c, kettle_to_wort, wort_to_beer
from service.reference.assumptions import get_assumption
from service.reference.cautions import get_caution
from service.science.beer_bitterness import is_above_solubility, is_unlikely
from service.science.brewhouse import BrewhouseFit
from service.science.uncertainty import Estimate

TINSETH = "G. Tinseth, hop utilisation article: utilization and mg/L formula"
MALOWICKI = "Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439: isomerisation and degradation"
BOILING = "ISO 2533:1975 (standard atmosphere) and IAPWS-IF97 region 4: boiling point at an elevation"
JUSTUS = "Justus 2018, MBAA Technical Quarterly 55(3):67-74: bitterness found in wort and lost in the cellar"
HAHN = "Hahn et al. 2018, J. Agric. Food Chem. 66:3505, doi 10.1021/acs.jafc.7b05784: humulinones"
VOLUME_WORDS = {"finished_beer": "finished beer", "cold_wort": "cold wort"}


def inputs_not_used(brew: Brew, *, method: str, model: str) -> tuple[str, ...]:
    """What was told and changed nothing, by name; of an addition as additions/N/name, counted from 0."""
    return tuple(_unused(brew, method=method, model=model))


def _unused(brew: Brew, *, method: str, model: str) -> Iterator[str]:
    kettle, told = brew.kettle, brew.recoveries
    if model == "tinseth":
        if brew.wort.elevation_m is not None:
            yield "elevation_m"
        if kettle.boil_minutes is not None:
            yield "kettle/boil_minutes"
        if kettle.at_minutes:
            yield "kettle/readings"
    if method != "kinetic":
        for name in ("kettle_to_wort_percent", "wort_to_beer_percent", "wort_lost_percent"):
            if getattr(told, name) is not None:
                yield f"recoveries/{name}"
    elif told.wort_lost_percent is not None and brew.wort.volume_of == "cold_wort":
        yield "recoveries/wort_lost_percent"
    for place, addition in enumerate(brew.additions):
        where = f"additions/{place}"
        if addition.at not in HOT and addition.minutes is not None:
            yield f"{where}/minutes"
        read = model == "kinetic" and bool(kettle.at_minutes)
        if addition.temperature_c is not None and (addition.at != "whirlpool" or read):
            yield f"{where}/temperature_c"
        if addition.gravity_sg is not None and (model == "kinetic" or addition.at not in HOT):
            yield f"{where}/gravity_sg"


def assumptions_of(brew: Brew, *, method: str, model: str, own: BrewhouseFit | None) -> tuple[str, ...]:
    """Every assumption that the estimate rests on, each once."""
    return tuple(dict.fromkeys(_assumptions(brew, method=method, model=model, own=own)))


def _assumptions(brew: Brew, *, method: str, model: str, own: BrewhouseFit | None) -> Iterator[str]:
    at = {addition.at for addition in brew.additions}
    yield "form factor 1.00 where none was given (common practice, no source)"
    if model == "tinseth":
        yield (
            f"the volume is taken as it stands: {brew.wort.volume_l:g} L of {VOLUME_WORDS[brew.wort.volume_of]}"
        )
        if "whirlpool" in at:
            yield WHIRLPOOL_CONVENTION
    else:
        yield from _kinetic_words(brew, method=method)
    if "first_wort" in at:
        factor = get_assumption("first_wort_factor")
        yield f"{words_of(factor)}: factor {factor.value:.2f}"
    if method == "brewhouse" and own is not None:
        yield (
            f"the brewery's own factors on {own.base_model}: {own.factor:.3g} for boil and first wort, "
            f"{own.whirlpool_factor:.3g} for the whirlpool, from {own.brews} brews on {own.alpha_basis} alpha; "
            f"each brew predicted from the others was missed by {100 * own.left_out_error_fraction:.1f} %"
        )
    else:
        yield from _spread_words(at, model)
    if any(addition.form == "wet_hop" for addition in brew.additions):
        yield words_of(get_assumption("wet_hop_utilization_ratio"))
    for addition in brew.additions:
        yield from addition.alpha.assumptions


def _spread_words(at: set[str], model: str) -> Iterator[str]:
    if model == "kinetic":
        yield words_of(get_assumption("kinetic_model_spread_ratio"))
        return
    if at & {"boil", "first_wort"}:
        yield words_of(get_assumption("tinseth_model_spread_ratio"))
    if "whirlpool" in at:
        yield words_of(get_assumption("whirlpool_model_spread_ratio"))


def _kinetic_words(brew: Brew, *, method: str) -> Iterator[str]:
    yield "a milligram of iso-alpha acids in a litre counts as one IBU (a convention; they differ in real beer)"
    place = (
        "sea level, for no elevation was given"
        if brew.wort.elevation_m is None
        else (f"{brew.wort.elevation_m:g} m")
    )
    yield f"the kettle boils at {boil_c(brew):.1f} °C, at {place}, in mean weather"
    if any(a.at == "whirlpool" for a in brew.additions) and not brew.kettle.at_minutes:
        yield "the wort keeps the temperature of the whirlpool that was given, then cools at once"
    elif not brew.kettle.at_minutes:
        yield "the wort is cooled at once when the boil ends"
    if method == "brewhouse":
        return
    told = brew.recoveries
    for used, own, words in (
        (kettle_to_wort(told.kettle_to_wort_percent), told.kettle_to_wort_percent, "from kettle to wort"),
        (wort_to_beer(told.wort_to_beer_percent), told.wort_to_beer_percent, "from wort to beer"),
    ):
        if own is None:
            yield (
                f"recovery {words}: {used.percent:.1f} %, a default because none was given ({used.source}); "
                "the interval spans the published range"
            )
    if brew.wort.volume_of == "finished_beer" and told.wort_lost_percent is None:
        yield "no loss of volume from cold wort to beer was given, so none is counted"


def brew_cautions(brew: Brew, *, total: Estimate | None, alpha_mg_per_l: float) -> tuple[str, ...]:
    """What a reader of the whole estimate should know."""
    codes = ["estimate", "ibu_is_not_iso"]
    if is_above_solubility(alpha_added_mg_per_l=alpha_mg_per_l):
        codes.append("alpha_solubility")
    if total is not None and is_unlikely(estimated_ibu=total.estimate):
        codes.append("ibu_over_100")
    if len({a.alpha.method for a in brew.additions if a.alpha.method}) > 1:
        codes.append("methods_differ")
    return tuple(get_caution(code).words for code in codes)


def sources_of(brew: Brew, *, model: str) -> tuple[str, ...]:
    """Where formulas and figures come from, each once."""
    at = {addition.at for addition in brew.additions}
    said = [TINSETH] if model == "tinseth" else [MALOWICKI, BOILING, JUSTUS]
    if model == "tinseth" and "whirlpool" in at:
        said.append(MALOWICKI)
    if "dry_hop" in at:
        said.append(HAHN)
    return tuple(dict.fromkeys([*said, *(s for a in brew.additions for s in a.alpha.sources)]))
