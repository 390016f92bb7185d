"""A brewery's own utilization, learnt from past brews with measured bitterness.

measured BU = factor * what the base model gives; where brews differ enough in their whirlpool share, the
whirlpool gets a factor of its own. Errors are ratios, so the fit is one of logarithms: 10 % too much and 10 %
too little weigh alike. The fit remembers which alpha it was made on, because aged alpha and the ageing inside
a factor would count the same loss twice.
"""

import math
from collections.abc import Sequence

import numpy as np

from service.errors import UnfitBrews
from service.facts import Fact
from service.science.arrays import Numbers
from service.science.checks import between
from service.science.uncertainty import (
    Estimate,
    HalfWidths,
    combine_half_widths,
    estimate_from_half_widths,
    student_95th,
)

FEWEST_BREWS = 3
# A factor of its own for the whirlpool takes two brews more, and columns that are not nearly parallel.
FEWEST_BREWS_FOR_WHIRLPOOL = 5
LARGEST_CONDITION = 10.0
# Brews that scatter by more than this about their own factor contradict each other: assumption, no source.
LARGEST_SCATTER_LOG = 0.35
FACTOR_MIN = 0.1
FACTOR_MAX = 5.0
ALPHA_BASES = ("estimated", "as_analysed")
# Steps of the fit with two factors; each of them gains digits, and few are needed.
MOST_STEPS = 50
SMALLEST_STEP_LOG = 1e-12
LARGEST_STEP_LOG = 1.0


class Brew(Fact, frozen=True):
    """One past brew: what the base model gives for it, and what the laboratory measured in the beer."""

    boil_ibu: float
    whirlpool_ibu: float
    measured_bu: float

    def __post_init__(self) -> None:
        """Refuse what is out of range."""
        between("boil_ibu", self.boil_ibu, 0, 1000, "IBU")
        between("whirlpool_ibu", self.whirlpool_ibu, 0, 1000, "IBU")
        between("measured_bu", self.measured_bu, 1, 200, "BU")
        between("boil_ibu + whirlpool_ibu", self.boil_ibu + self.whirlpool_ibu, 1, 2000, "IBU")


class BrewhouseFit(Fact, frozen=True):
    """A brewery's factors on a base model; `whirlpool_factor` equals the other where it could not be told.

    `left_out_error_log` is the root mean square of ln(predicted/measured) of each brew predicted from the
    others. `sd_log` is the scatter of brews about the fit, and `doubt` how much the factors' own doubt adds to
    its square: for the boil, for boil and whirlpool together, for the whirlpool.
    """

    base_model: str
    alpha_basis: str
    factor: float
    whirlpool_factor: float
    has_own_whirlpool_factor: bool
    brews: int
    left_out_error_log: float
    sd_log: float
    doubt: tuple[float, float, float]

    @property
    def degrees_of_freedom(self) -> int:
        """Brews less the factors fitted to them."""
        return self.brews - (2 if self.has_own_whirlpool_factor else 1)


def fit_brewhouse(*, brews: Sequence[Brew], base_model: str, alpha_basis: str) -> BrewhouseFit:
    """Fit a brewery's own factor on a base model to its past brews.

    Least squares on log ratios: sum of (ln BU - ln(f boil + w whirlpool))^2; with one factor that is the
    geometric mean of the ratios. The whirlpool has its own factor only when at least five brews tell the two
    apart (condition of the columns up to 10).

    Args:
        brews: past brews with the base model's figures and the measured bitterness. [-] 3..1000
        base_model: the model that gave these figures, for instance tinseth. [-] any
        alpha_basis: as_analysed (certificate) or estimated (for the day of the brew). [-] any

    Returns:
        The fit; with two factors its errors are taken to first order about them. [-]

    Raises:
        OutOfRange: there are more than 1000 brews.
        UnfitBrews: fewer than three brews, brews that contradict each other or need an unbelievable factor,
            or an unknown alpha basis.

    Source: least squares with leave-one-out errors; limits are house assumptions, no source.

    >>> past = [Brew(boil_ibu=30, whirlpool_ibu=0, measured_bu=33), Brew(40, 0, 44), Brew(20, 0, 22)]
    >>> fit_brewhouse(brews=past, base_model="tinseth", alpha_basis="as_analysed").factor
    1.1

    """
    between("number of brews", len(brews), 0, 1000, "")
    _check_basis(alpha_basis)
    if len(brews) < FEWEST_BREWS:
        raise UnfitBrews(
            f"{len(brews)} brews with measured bitterness are known, {FEWEST_BREWS} are needed", reason="few"
        )
    given = np.array([(brew.boil_ibu, brew.whirlpool_ibu) for brew in brews])
    wanted = np.log([brew.measured_bu for brew in brews])
    own = _tells_apart(given / given.sum(axis=1, keepdims=True))
    columns = given if own else given.sum(axis=1, keepdims=True)
    logs = _solve(columns, wanted)
    _check_factors(np.exp(logs))
    slopes, errors = _linear(columns, wanted, logs)
    doubt = np.linalg.inv(slopes.T @ slopes)
    leverages = np.einsum("ij,jk,ik->i", slopes, doubt, slopes)
    left_out_log = float(np.sqrt(np.mean((errors / (1 - leverages)) ** 2)))
    _check_scatter(left_out_log)
    factors = np.exp(logs)
    return BrewhouseFit(
        base_model=base_model,
        alpha_basis=alpha_basis,
        factor=float(factors[0]),
        whirlpool_factor=float(factors[-1]),
        has_own_whirlpool_factor=own,
        brews=len(brews),
        left_out_error_log=left_out_log,
        sd_log=float(np.sqrt(errors @ errors / (len(brews) - len(factors)))),
        doubt=(float(doubt[0, 0]), float(doubt[0, -1]), float(doubt[-1, -1])),
    )


def unseen_brew_reach_log(*, fit: BrewhouseFit, whirlpool_share: float) -> float:
    """Give how far a brew that was not in the fit may lie from its estimate, to each side.

    t sd sqrt(1 + b^2 D_bb + 2 b w D_bw + w^2 D_ww): Student's t, the scatter of the brews, and the doubt about
    the factors where w is the whirlpool's share of the bitterness and b the rest. With one factor that is
    t sd sqrt(1 + 1/n) whatever the share.

    Args:
        fit: the brewery's fit. [-] any
        whirlpool_share: part of the bitterness that comes from the whirlpool. [-] 0..1

    Returns:
        The half-width of the 5th to 95th percentile interval, as a natural logarithm. [-]

    Raises:
        OutOfRange: the share lies outside the range beside it.

    Source: prediction interval of a linear regression; no empirical constant.

    >>> fit = BrewhouseFit("tinseth", "as_analysed", 1.1, 1.1, False, 3, 0.05, 0.04, (1 / 3, 1 / 3, 1 / 3))
    >>> unseen_brew_reach_log(fit=fit, whirlpool_share=0)
    0.135

    """
    between("whirlpool_share", whirlpool_share, 0, 1, "")
    boil, both, whirlpool = fit.doubt
    boil_share = 1 - whirlpool_share
    doubt = boil_share**2 * boil + 2 * boil_share * whirlpool_share * both + whirlpool_share**2 * whirlpool
    reach = student_95th(degrees_of_freedom=fit.degrees_of_freedom)
    return reach * fit.sd_log * math.sqrt(1 + max(doubt, 0.0))


def brewhouse_ibu(
    *,
    fit: BrewhouseFit,
    boil_ibu: float,
    whirlpool_ibu: float,
    whirlpool_model: HalfWidths,
    base_model: str,
    alpha_basis: str,
) -> Estimate:
    """Estimate the bitterness of a beer by a brewery's own utilization.

    factor * boil + whirlpool factor * whirlpool, with the interval of a brew that was not in the fit. Where the
    brews gave the whirlpool no factor of its own, its part keeps the base model's scatter beside that.

    Args:
        fit: the brewery's fit. [-] any
        boil_ibu: what the base model gives for first wort and boil. [IBU] 0..1000
        whirlpool_ibu: what the base model gives for the whirlpool. [IBU] 0..1000
        whirlpool_model: how far the base model may be off in a whirlpool, as logarithms. [-] 0..10
        base_model: the model that gave these figures; must be the fit's. [-] any
        alpha_basis: the alpha they were computed from; must be the fit's. [-] any

    Returns:
        The bitterness with its 5th and 95th percentile. [IBU]

    Raises:
        OutOfRange: an argument lies outside the range beside it.
        UnfitBrews: the model or the alpha basis is not the one of the fit.

    Source: the brewery's own measurements.

    >>> fit = BrewhouseFit("tinseth", "as_analysed", 1.1, 1.1, False, 3, 0.05, 0.04, (1 / 3, 1 / 3, 1 / 3))
    >>> brewhouse_ibu(fit=fit, boil_ibu=30, whirlpool_ibu=0, whirlpool_model=HalfWidths(0.7, 0.7),
    ...               base_model="tinseth", alpha_basis="as_analysed")
    Estimate(estimate=33.0, low=28.836, high=37.765, confidence=0.9)

    """
    between("boil_ibu", boil_ibu, 0, 1000, "IBU")
    between("whirlpool_ibu", whirlpool_ibu, 0, 1000, "IBU")
    check_same_ground(fit=fit, base_model=base_model, alpha_basis=alpha_basis)
    whirlpool = fit.whirlpool_factor * whirlpool_ibu
    ibu = fit.factor * boil_ibu + whirlpool
    share = whirlpool / ibu if ibu else 0.0
    reach = unseen_brew_reach_log(fit=fit, whirlpool_share=share)
    unlearnt = 0.0 if fit.has_own_whirlpool_factor else share
    model = HalfWidths(whirlpool_model.below_log * unlearnt, whirlpool_model.above_log * unlearnt)
    widths = combine_half_widths(parts=[HalfWidths(reach, reach), model])
    return estimate_from_half_widths(estimate=ibu, half_widths=widths)


def check_same_ground(*, fit: BrewhouseFit, base_model: str, alpha_basis: str) -> None:
    """Refuse to use a fit with another model or another alpha than it was made on.

    Args:
        fit: the brewery's fit. [-] any
        base_model: the model it shall be used with. [-] any
        alpha_basis: the alpha it shall be used with. [-] any

    Returns:
        Nothing, when both are those of the fit. [-]

    Raises:
        UnfitBrews: the model or the alpha basis is not the one of the fit.

    Source: logic; no empirical constant.

    >>> fit = BrewhouseFit("tinseth", "estimated", 1.1, 1.1, False, 3, 0.05, 0.04, (1 / 3, 1 / 3, 1 / 3))
    >>> check_same_ground(fit=fit, base_model="tinseth", alpha_basis="estimated")

    """
    _check_basis(alpha_basis)
    if fit.base_model != base_model:
        raise UnfitBrews(
            f"the fit was made on the {fit.base_model} model, not on {base_model}", reason="base-model"
        )
    if fit.alpha_basis != alpha_basis:
        raise UnfitBrews(
            f"the fit was made on {fit.alpha_basis} alpha; on {alpha_basis} alpha ageing counts wrongly",
            reason="alpha-basis",
        )


def _check_basis(alpha_basis: str) -> None:
    if alpha_basis not in ALPHA_BASES:
        raise UnfitBrews(
            f"the alpha basis is one of {', '.join(ALPHA_BASES)}, not {alpha_basis!r}", reason="alpha-basis"
        )


def _check_factors(factors: Numbers) -> None:
    for factor in factors.tolist():
        if not FACTOR_MIN <= factor <= FACTOR_MAX:
            raise UnfitBrews(
                f"the brews need a factor of {factor:.3g}; {FACTOR_MIN:g} to {FACTOR_MAX:g} can be believed",
                reason="implausible",
            )


def _check_scatter(left_out_log: float) -> None:
    if left_out_log > LARGEST_SCATTER_LOG:
        missed = math.expm1(left_out_log)
        raise UnfitBrews(
            f"the brews contradict each other: predicted from the others, they miss by {missed:.0%}",
            reason="contradictory",
        )


def _tells_apart(shares: Numbers) -> bool:
    lengths = np.linalg.norm(shares, axis=0)
    if len(shares) < FEWEST_BREWS_FOR_WHIRLPOOL or not lengths.all():
        return False
    # Each brew is left out in turn later, so the others must still tell the two apart.
    return all(
        np.linalg.cond(rest / np.maximum(np.linalg.norm(rest, axis=0), 1e-12)) <= LARGEST_CONDITION
        for rest in (np.delete(shares, place, axis=0) for place in range(len(shares)))
    )


def _solve(columns: Numbers, wanted: Numbers) -> Numbers:
    """Give the logarithms of the factors: Gauss-Newton, a step halved until it makes the errors smaller."""
    logs: Numbers = np.full(columns.shape[1], np.mean(wanted - np.log(columns.sum(axis=1))))
    for _ in range(MOST_STEPS if len(logs) > 1 else 0):
        slopes, errors = _linear(columns, wanted, logs)
        step = np.clip(np.linalg.lstsq(slopes, errors)[0], -LARGEST_STEP_LOG, LARGEST_STEP_LOG)
        while np.abs(step).max() > SMALLEST_STEP_LOG:
            _, after = _linear(columns, wanted, logs + step)
            if after @ after <= errors @ errors:
                break
            step = step / 2
        else:
            break
        logs = logs + step
    return logs


def _linear(columns: Numbers, wanted: Numbers, logs: Numbers) -> tuple[Numbers, Numbers]:
    """Give the share of each factor in each brew, and ln(measured/predicted)."""
    parts = columns * np.exp(logs)
    predicted = parts.sum(axis=1)
    return parts / predicted[:, None], wanted - np.log(predicted)
