"""The bitterness of a brew: each addition's share and the whole, as estimates with what they rest on."""

import math
from collections.abc import Iterator, Mapping, Sequence

from service.facts import Fact, field, replace
from service.market.brewing.bitterness_words import assumptions_of, brew_cautions, sources_of
from service.market.brewing.brews import HOT, Addition, Brew, Wort, accept_brew
from service.market.brewing.calibrations import OwnUtilization
from service.market.brewing.methods import Method, RecoveryUsed, Utilization, utilizations
from service.reference.assumptions import get_assumption
from service.reference.cautions import get_caution
from service.science.beer_bitterness import alpha_added_mg_per_l
from service.science.bitterness import ibu as ibu_of
from service.science.bitterness_spread import AdditionSpread, addition_estimate, total_estimate
from service.science.dry_hop import DryHopBitterness, dry_hop_bitterness
from service.science.uncertainty import Estimate

# The dry hop doses that the published range of humulinones reaches.
LARGEST_DRY_HOP_G_PER_L = 22.0


class AdditionResult(Fact, frozen=True, kw_only=True):
    """What one addition gives; `ibu` is None where `reason` says why.

    `utilization_percent` is before the form factor: ibu = utilization · form factor · alpha · mass / volume.
    `alpha_alone_ibu` is the interval that is left for a brewery that knows its own utilization.
    """

    addition: Addition
    utilization_percent: float | None
    ibu: Estimate | None
    reason: str | None
    alpha_alone_ibu: Estimate | None = None
    spread: AdditionSpread | None = None
    humulinone_bitterness: DryHopBitterness | None = None
    water_l: float | None = None
    cautions: tuple[str, ...] = ()


class Bitterness(Fact, frozen=True, kw_only=True):
    """The estimated bitterness of a brew; `ibu` is None where no addition gives any that can be estimated.

    What differs from lot to lot (alpha) and from brewery to brewery (utilization) are both in `ibu`;
    `alpha_alone_ibu` is what is left for a brewery that knows its own utilization.
    """

    method: str
    alpha_basis: str
    wort: Wort
    volume_used_l: float
    ibu: Estimate | None
    alpha_alone_ibu: Estimate | None
    additions: tuple[AdditionResult, ...]
    recoveries: Mapping[str, RecoveryUsed] = field(default_factory=dict)
    own_utilization: OwnUtilization | None = None
    inputs_not_used: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


def brew_bitterness(brew: Brew, *, method: Method, alpha_basis: str) -> Bitterness:
    """Estimate the bitterness of a brew.

    Raises:
        InvalidRequest: an addition lacks its time or its temperature.
        OutOfRange: a figure outside what the method reaches.

    """
    accept_brew(brew, reach=method.reach)
    volume_l = method.volume_l(brew)
    results = tuple(
        _result(a, u, volume_l) for a, u in zip(brew.additions, utilizations(brew, method), strict=True)
    )
    spreads = [r.spread for r in results if r.spread is not None]
    total = total_estimate(additions=spreads) if spreads else None
    return Bitterness(
        method=method.code,
        alpha_basis=alpha_basis,
        wort=brew.wort,
        volume_used_l=volume_l,
        ibu=total,
        alpha_alone_ibu=total_estimate(additions=[_alpha_alone(one) for one in spreads]) if spreads else None,
        additions=results,
        recoveries=method.recoveries(brew),
        inputs_not_used=tuple(method.inputs_not_used(brew)),
        assumptions=assumptions_of(brew, method=method),
        cautions=brew_cautions(brew, total=total, alpha_mg_per_l=_alpha_mg_per_l(brew.additions, volume_l)),
        sources=sources_of(brew, method=method),
    )


def _alpha_alone(spread: AdditionSpread) -> AdditionSpread:
    return replace(spread, model_by_source={})


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
        model_by_source=used.scatter_in_brew,
        lot=alpha.lot_code,
    )
    alone = replace(spread, model_by_source=used.scatter)
    return AdditionResult(
        addition=addition,
        utilization_percent=used.percent,
        ibu=addition_estimate(addition=alone),
        reason=None,
        alpha_alone_ibu=addition_estimate(addition=_alpha_alone(spread)),
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
