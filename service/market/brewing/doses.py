"""How much of a lot for a wanted bitterness, or instead of another hop: mass, cost, and what becomes of the oil."""

import math
from collections.abc import Mapping
from decimal import Decimal

from service.errors import InvalidRequest, UnlikeProfiles
from service.facts import Fact, replace
from service.market.brewing.bitterness import Bitterness, brew_bitterness
from service.market.brewing.brews import Addition, Brew
from service.market.brewing.methods import Method
from service.market.goods.lots import Lot
from service.science.bitterness import LARGEST_G, mass_g_for_ibu
from service.science.dosing import cost_per_10_ibu_hl, missing_ibu
from service.science.oil import LARGEST_DOSE_G_PER_HL, MOST_OIL_ML_PER_100G, oil_dosed_ml_per_hl
from service.science.oil_profile import OilProfile, compare_oil_profiles

TRIAL_G = 1000.0
NO_SUBSTITUTE = (
    "Equal bitterness is not equal aroma: a similar oil profile is a hint, and no figure here calls one hop a "
    "replacement of another."
)


class DoseWish(Fact, frozen=True, kw_only=True):
    """What the dosed hops shall do: bring a beer to a bitterness, carry a share of it, or take another hop's place."""

    wanted_ibu: float | None = None
    share_percent: float | None = None
    replaces: int | None = None


class Cost(Fact, frozen=True, kw_only=True):
    """What the dose costs, and ten IBU in a hectolitre by these hops."""

    amount: Decimal
    currency: str
    per_10_ibu_hl: float


class Swap(Fact, frozen=True, kw_only=True):
    """One hop in place of another: masses, oil before and after, and how alike the oil profiles are."""

    replaced_mass_g: float
    mass_g: float
    oil_before_ml_per_hl: float | None
    oil_after_ml_per_hl: float | None
    oil_similarity: float | None
    oil_parts: tuple[str, ...]
    oil_not_compared: str | None


class Dose(Fact, frozen=True, kw_only=True):
    """A mass of hops, and the bitterness of the beer with it."""

    mass_g: float
    place: int
    share_percent: float | None
    bitterness: Bitterness
    oil_dosed_ml_per_hl: float | None
    cost: Cost | None
    swap: Swap | None
    cautions: tuple[str, ...]


def decide_dose(
    brew: Brew,
    *,
    wish: DoseWish,
    method: Method,
    alpha_basis: str,
    lot: Lot | None,
    shows_price: bool,
    replaced: Addition | None = None,
) -> Dose:
    """Find the mass of one addition; it stands last in the brew, or in the place of the hop it replaces.

    Raises:
        InvalidRequest: no bitterness can be estimated for hops at that place, or they give none.
        OutOfRange: the others give too much already, or a figure is outside what the method reaches.

    """
    place = len(brew.additions) - 1 if wish.replaces is None else wish.replaces
    addition = brew.additions[place]

    def brewed_with(one: Addition) -> Bitterness:
        additions = (*brew.additions[:place], one, *brew.additions[place + 1 :])
        return brew_bitterness(replace(brew, additions=additions), method=method, alpha_basis=alpha_basis)

    trial = brewed_with(replace(addition, mass_g=TRIAL_G))
    used_percent = _used_percent(trial, place)
    wanted = _wanted_ibu(wish, trial, place) if replaced is None else _ibu_at(brewed_with(replaced), place)
    mass_g = mass_g_for_ibu(
        wanted_ibu=wanted,
        utilization_percent=used_percent,
        alpha_percent=addition.alpha.percent,
        volume_l=trial.volume_used_l,
    )
    if not mass_g <= LARGEST_G:
        text = f"that takes {mass_g:.3g} g, more than any brew holds"
        raise InvalidRequest(text, errors=[{"pointer": "#/dose", "detail": text}])
    final = brewed_with(replace(addition, mass_g=mass_g))
    swap = None if replaced is None else _swap(replaced, addition, mass_g, final.volume_used_l)
    return Dose(
        mass_g=mass_g,
        place=place,
        share_percent=_share_percent(final, place),
        bitterness=final,
        oil_dosed_ml_per_hl=_oil_ml_per_hl(addition, mass_g, final.volume_used_l),
        cost=_cost(lot, addition, mass_g, used_percent) if shows_price else None,
        swap=swap,
        cautions=_cautions(lot, mass_g, swap),
    )


def _ibu_at(bitterness: Bitterness, place: int) -> float:
    found = bitterness.additions[place].ibu
    return 0.0 if found is None else found.estimate


def _used_percent(trial: Bitterness, place: int) -> float:
    """The utilization with the form factor, or the reason why there is no dose."""
    result = trial.additions[place]
    if result.utilization_percent is None:
        text = f"no mass can be given: {result.reason}"
        raise InvalidRequest(text, errors=[{"pointer": "#/dose/at", "detail": text}])
    used = result.utilization_percent * result.addition.form_factor
    if used <= 0:
        text = "hops that do not stay hot give no bitterness to reckon with"
        raise InvalidRequest(text, errors=[{"pointer": "#/dose/minutes", "detail": text}])
    return used


def _wanted_ibu(wish: DoseWish, trial: Bitterness, place: int) -> float:
    total = wish.wanted_ibu or 0.0
    if wish.share_percent is not None:
        return total * wish.share_percent / 100
    given = math.fsum(
        r.ibu.estimate for n, r in enumerate(trial.additions) if n != place and r.ibu is not None
    )
    return missing_ibu(wanted_ibu=total, given_ibu=given)


def _share_percent(bitterness: Bitterness, place: int) -> float | None:
    total = bitterness.ibu.estimate if bitterness.ibu else 0.0
    return 100 * _ibu_at(bitterness, place) / total if total else None


def _oil_ml_per_hl(addition: Addition, mass_g: float, volume_l: float) -> float | None:
    oil, dose = addition.oil_ml_per_100g, 100 * mass_g / volume_l
    if oil is None or oil > MOST_OIL_ML_PER_100G or dose > LARGEST_DOSE_G_PER_HL:
        return None
    return oil_dosed_ml_per_hl(dose_g_per_hl=dose, oil_ml_per_100g=oil)


def _cost(lot: Lot | None, addition: Addition, mass_g: float, used_percent: float) -> Cost | None:
    if lot is None or lot.price_per_kg is None or lot.currency is None:
        return None
    amount = lot.price_per_kg * Decimal(str(round(mass_g, 3))) / 1000
    return Cost(
        amount=amount.quantize(Decimal("0.01")),
        currency=lot.currency,
        per_10_ibu_hl=cost_per_10_ibu_hl(
            price_per_kg=float(lot.price_per_kg),
            utilization_percent=used_percent,
            alpha_percent=addition.alpha.percent,
        ),
    )


def _swap(replaced: Addition, addition: Addition, mass_g: float, volume_l: float) -> Swap:
    similarity, parts, reason = _compared(replaced, addition)
    return Swap(
        replaced_mass_g=replaced.mass_g,
        mass_g=mass_g,
        oil_before_ml_per_hl=_oil_ml_per_hl(replaced, replaced.mass_g, volume_l),
        oil_after_ml_per_hl=_oil_ml_per_hl(addition, mass_g, volume_l),
        oil_similarity=similarity,
        oil_parts=parts,
        oil_not_compared=reason,
    )


def _compared(one: Addition, other: Addition) -> tuple[float | None, tuple[str, ...], str | None]:
    if not one.oil_shares_percent or not other.oil_shares_percent:
        return None, (), "the shares of the oil are not known of both"
    try:
        found = compare_oil_profiles(first=_profile(one), second=_profile(other))
    except UnlikeProfiles as unlike:
        return None, (), unlike.detail
    return found.similarity, found.parts, None


def _profile(addition: Addition) -> OilProfile:
    shares: Mapping[str, float | None] = dict(addition.oil_shares_percent or {})
    return OilProfile(basis=addition.oil_shares_basis or "unknown", shares_percent=shares)


def _cautions(lot: Lot | None, mass_g: float, swap: Swap | None) -> tuple[str, ...]:
    said = []
    if lot is not None and Decimal(str(round(mass_g, 3))) / 1000 > lot.free_kg:
        said.append(f"Lot {lot.code} has {lot.free_kg} kg free, less than this takes.")
    if swap is not None:
        said.append(NO_SUBSTITUTE)
    return tuple(said)
