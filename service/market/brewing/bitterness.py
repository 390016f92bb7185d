"""The bitterness of a brew: each addition's share and the whole, as estimates with what they rest on."""

import math
from collections.abc import Iterator, Mapping, Sequence

from service.errors import UnfitBrews
from service.facts import Fact, field
from service.market.brewing.bitterness_words import (
    assumptions_of,
    brew_cautions,
    inputs_not_used,
    sources_of,
)
from service.market.brewing.brews import HOT, Addition, Brew, Wort, accept_brew
from service.market.brewing.calibrations import UtilizationFit
from service.market.brewing.utilizations import (
    ALL_RECOVERED,
    RecoveryUsed,
    Utilization,
    kettle_to_wort,
    kinetic_utilizations,
    own_utilizations,
    tinseth_utilizations,
    wort_to_beer,
)
from service.reference.assumptions import get_assumption
from service.reference.cautions import get_caution
from service.science.beer_bitterness import alpha_added_mg_per_l
from service.science.bitterness import ibu as ibu_of
from service.science.bitterness_spread import AdditionSpread, addition_estimate, total_estimate
from service.science.brewhouse import check_same_ground
from service.science.dry_hop import DryHopBitterness, dry_hop_bitterness
from service.science.recoveries import cold_wort_volume_l
from service.science.uncertainty import Estimate

# The dry hop doses that the published range of humulinones reaches.
LARGEST_DRY_HOP_G_PER_L = 22.0


class AdditionResult(Fact, frozen=True, kw_only=True):
    """What one addition gives; `ibu` is None where `reason` says why.

    `utilization_percent` is before the form factor: ibu = utilization · form factor · alpha · mass / volume.
    """

    addition: Addition
    utilization_percent: float | None
    ibu: Estimate | None
    reason: str | None
    spread: AdditionSpread | None = None
    humulinone_bitterness: DryHopBitterness | None = None
    water_l: float | None = None
    cautions: tuple[str, ...] = ()


class Bitterness(Fact, frozen=True, kw_only=True):
    """The estimated bitterness of a brew; `ibu` is None where no addition gives any that can be estimated."""

    method: str
    alpha_basis: str
    wort: Wort
    volume_used_l: float
    ibu: Estimate | None
    additions: tuple[AdditionResult, ...]
    recoveries: Mapping[str, RecoveryUsed] = field(default_factory=dict)
    fit_code: str | None = None
    inputs_not_used: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


def brew_bitterness(
    brew: Brew, *, method: str, alpha_basis: str, own: UtilizationFit | None = None
) -> Bitterness:
    """Estimate the bitterness of a brew.

    Raises:
        InvalidRequest: an addition lacks its time or its temperature.
        OutOfRange: a figure outside what the method reaches.
        UnfitBrews: the brewery's own utilization is missing, or was fitted on another alpha.

    """
    if method == "brewhouse" and own is None:
        raise UnfitBrews("the brewery has no utilization of its own yet", reason="no-fit")
    model = own.fit.base_model if own and method == "brewhouse" else method
    accept_brew(brew, model=model)
    recoveries = _recoveries(brew, method=method, model=model)
    used = _base(brew, model, recoveries)
    if method == "brewhouse" and own is not None:
        check_same_ground(fit=own.fit, base_model=model, alpha_basis=alpha_basis)
        used = own_utilizations(used, brew.additions, own.fit)
    volume_l = _volume_l(brew, model=model, method=method)
    results = tuple(_result(a, u, volume_l) for a, u in zip(brew.additions, used, strict=True))
    spreads = [r.spread for r in results if r.spread is not None]
    total = total_estimate(additions=spreads) if spreads else None
    return Bitterness(
        method=method,
        alpha_basis=alpha_basis,
        wort=brew.wort,
        volume_used_l=volume_l,
        ibu=total,
        additions=results,
        recoveries=recoveries if method == "kinetic" else {},
        fit_code=own.code if own and method == "brewhouse" else None,
        inputs_not_used=inputs_not_used(brew, method=method, model=model),
        assumptions=assumptions_of(brew, method=method, model=model, own=own.fit if own else None),
        cautions=brew_cautions(brew, total=total, alpha_mg_per_l=_alpha_mg_per_l(brew.additions, volume_l)),
        sources=sources_of(brew, model=model),
    )


def _recoveries(brew: Brew, *, method: str, model: str) -> dict[str, RecoveryUsed]:
    if method == "brewhouse":
        return {"kettle_to_wort_percent": ALL_RECOVERED, "wort_to_beer_percent": ALL_RECOVERED}
    if model != "kinetic":
        return {}
    told = brew.recoveries
    return {
        "kettle_to_wort_percent": kettle_to_wort(told.kettle_to_wort_percent),
        "wort_to_beer_percent": wort_to_beer(told.wort_to_beer_percent),
    }


def _base(brew: Brew, model: str, recoveries: Mapping[str, RecoveryUsed]) -> tuple[Utilization, ...]:
    if model == "tinseth":
        return tinseth_utilizations(brew)
    return kinetic_utilizations(
        brew,
        kettle_to_wort=recoveries["kettle_to_wort_percent"],
        wort_to_beer=recoveries["wort_to_beer_percent"],
    )


def base_ibus(brew: Brew, *, model: str) -> tuple[float, float]:
    """What a base model gives for first wort and boil, and for the whirlpool, of one of a brewery's own brews.

    On kinetics the recoveries are left out: the fitted factor stands for both.
    """
    accept_brew(brew, model=model)
    used = _base(brew, model, _recoveries(brew, method="brewhouse", model=model))
    volume_l = _volume_l(brew, model=model, method="brewhouse")
    boil = whirlpool = 0.0
    for addition, found in zip(brew.additions, used, strict=True):
        if found.percent is not None:
            share = _ibu(addition, found.percent, volume_l)
            boil, whirlpool = (
                (boil, whirlpool + share) if addition.at == "whirlpool" else (boil + share, whirlpool)
            )
    return boil, whirlpool


def _volume_l(brew: Brew, *, model: str, method: str) -> float:
    """The volume that the bitterness is counted in: the kinetics count in cold wort, the published rule as told."""
    lost = brew.recoveries.wort_lost_percent
    if model != "kinetic" or method == "brewhouse" or brew.wort.volume_of == "cold_wort" or not lost:
        return brew.wort.volume_l
    return cold_wort_volume_l(beer_volume_l=brew.wort.volume_l, wort_lost_percent=lost)


def _ibu(addition: Addition, percent: float, volume_l: float) -> float:
    return addition.form_factor * ibu_of(
        utilization_percent=percent,
        alpha_percent=addition.alpha.percent,
        mass_g=addition.mass_g,
        volume_l=volume_l,
    )


def _result(addition: Addition, used: Utilization, volume_l: float) -> AdditionResult:
    alpha = addition.alpha
    water_l = _water_l(addition)
    cautions = (*used.cautions, *alpha.cautions, *_addition_cautions(addition, volume_l, water_l))
    if used.percent is None:
        return AdditionResult(
            addition=addition,
            utilization_percent=None,
            ibu=None,
            reason=used.reason,
            humulinone_bitterness=_humulinones(addition, volume_l),
            water_l=water_l,
            cautions=cautions,
        )
    spread = AdditionSpread(
        ibu=_ibu(addition, used.percent, volume_l),
        alpha_by_source=alpha.scatter,
        model=used.spread,
        model_name=used.model_name,
        lot=alpha.lot_code,
    )
    return AdditionResult(
        addition=addition,
        utilization_percent=used.percent,
        ibu=addition_estimate(addition=spread),
        reason=None,
        spread=spread,
        water_l=water_l,
        cautions=cautions,
    )


def _humulinones(addition: Addition, volume_l: float) -> DryHopBitterness | None:
    dose = addition.mass_g / volume_l
    if addition.at != "dry_hop" or addition.form == "wet_hop" or dose > LARGEST_DRY_HOP_G_PER_L:
        return None
    return dry_hop_bitterness(dose_g_per_l=dose)


def _water_l(addition: Addition) -> float | None:
    """The water that wet hops bring, a kilogram taken as a litre."""
    if addition.form != "wet_hop":
        return None
    moisture = addition.moisture_percent
    if moisture is None:
        moisture = get_assumption("wet_hop_moisture_percent").value
    return addition.mass_g / 1000 * moisture / 100


def _addition_cautions(addition: Addition, volume_l: float, water_l: float | None) -> Iterator[str]:
    if addition.at == "dry_hop":
        yield get_caution("hop_creep").words
        if addition.alpha.is_aged:
            yield get_caution("aged_hops").words
        dose = addition.mass_g / volume_l
        if dose > LARGEST_DRY_HOP_G_PER_L:
            yield (
                f"{dose:.3g} g/L is more than practice knows ({LARGEST_DRY_HOP_G_PER_L:g} g/L); no range of "
                "humulinone bitterness is given."
            )
    if water_l is not None:
        yield f"These wet hops bring about {water_l:.2g} L of water, which is not in the volume."


def _alpha_mg_per_l(additions: Sequence[Addition], volume_l: float) -> float:
    return math.fsum(
        alpha_added_mg_per_l(alpha_percent=a.alpha.percent, mass_g=a.mass_g, volume_l=volume_l)
        for a in additions
        if a.at in HOT
    )
