"""A brewery's own utilization, learnt from past brews with measured bitterness.

measured BU = factor * what the base model gives; where brews differ enough in their whirlpool share, the
whirlpool gets a factor of its own. The fit remembers which alpha it was made on, because aged alpha and the
ageing inside a factor would count the same loss twice.
"""

import math
from collections.abc import Sequence

import numpy as np

from service.errors import UnfitBrews
from service.facts import Fact
from service.science.arrays import Numbers
from service.science.checks import between
from service.science.uncertainty import Estimate, lognormal_estimate

FEWEST_BREWS = 3
# A factor of its own for the whirlpool takes two brews more, and columns that are not nearly parallel.
FEWEST_BREWS_FOR_WHIRLPOOL = 5
LARGEST_CONDITION = 10.0
# Brews that scatter by more than this about their own factor contradict each other: assumption, no source.
LARGEST_SCATTER_FRACTION = 0.35
FACTOR_MIN = 0.1
FACTOR_MAX = 5.0
ALPHA_BASES = ("as_analysed", "estimated")


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
    """A brewery's factors on a base model; `whirlpool_factor` equals the other where it could not be told."""

    base_model: str
    alpha_basis: str
    factor: float
    whirlpool_factor: float
    has_own_whirlpool_factor: bool
    brews: int
    left_out_error_fraction: float


def fit_brewhouse(*, brews: Sequence[Brew], base_model: str, alpha_basis: str) -> BrewhouseFit:
    """Fit a brewery's own factor on a base model to its past brews.

    Least squares on relative errors: sum of (1 - f boil/BU - w whirlpool/BU)^2. The whirlpool has its own
    factor only when at least five brews tell the two apart (condition of the columns up to 10).

    Args:
        brews: past brews with the base model's figures and the measured bitterness. [-] 3..1000
        base_model: the model that gave these figures, for instance tinseth. [-] any
        alpha_basis: as_analysed (certificate) or estimated (for the day of the brew). [-] any

    Returns:
        The fit; `left_out_error_fraction` is the root mean square relative error of each brew predicted from
        the others. [-]

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
    columns = _columns(brews)
    factors = _solve(columns)
    errors = _left_out_errors(columns)
    scatter = math.sqrt(float(np.mean(errors**2)))
    _check_fit(factors, scatter)
    return BrewhouseFit(
        base_model=base_model,
        alpha_basis=alpha_basis,
        factor=float(factors[0]),
        whirlpool_factor=float(factors[-1]),
        has_own_whirlpool_factor=len(factors) == 2,
        brews=len(brews),
        left_out_error_fraction=scatter,
    )


def brewhouse_ibu(
    *,
    fit: BrewhouseFit,
    boil_ibu: float,
    whirlpool_ibu: float,
    base_model: str,
    alpha_basis: str,
) -> Estimate:
    """Estimate the bitterness of a beer by a brewery's own utilization.

    factor * boil + whirlpool factor * whirlpool; the interval is 1.645 times the left-out error to each side,
    on the logarithm.

    Args:
        fit: the brewery's fit. [-] any
        boil_ibu: what the base model gives for first wort and boil. [IBU] 0..1000
        whirlpool_ibu: what the base model gives for the whirlpool. [IBU] 0..1000
        base_model: the model that gave these figures; must be the fit's. [-] any
        alpha_basis: the alpha they were computed from; must be the fit's. [-] any

    Returns:
        The bitterness with its 5th and 95th percentile. [IBU]

    Raises:
        OutOfRange: an argument lies outside the range beside it.
        UnfitBrews: the model or the alpha basis is not the one of the fit.

    Source: the brewery's own measurements.

    >>> fit = BrewhouseFit("tinseth", "as_analysed", 1.1, 1.1, False, 3, 0.05)
    >>> brewhouse_ibu(fit=fit, boil_ibu=30, whirlpool_ibu=0, base_model="tinseth", alpha_basis="as_analysed")
    Estimate(estimate=33.0, low=30.395, high=35.829, confidence=0.9)

    """
    between("boil_ibu", boil_ibu, 0, 1000, "IBU")
    between("whirlpool_ibu", whirlpool_ibu, 0, 1000, "IBU")
    check_same_ground(fit=fit, base_model=base_model, alpha_basis=alpha_basis)
    ibu = fit.factor * boil_ibu + fit.whirlpool_factor * whirlpool_ibu
    return lognormal_estimate(median=ibu, sd_log=fit.left_out_error_fraction)


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

    >>> check_same_ground(fit=BrewhouseFit("tinseth", "estimated", 1.1, 1.1, False, 3, 0.05),
    ...                   base_model="tinseth", alpha_basis="estimated")

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


def _check_fit(factors: Numbers, scatter: float) -> None:
    if scatter > LARGEST_SCATTER_FRACTION:
        raise UnfitBrews(
            f"the brews contradict each other: predicted from the others, they miss by {scatter:.0%}",
            reason="contradictory",
        )
    for factor in factors.tolist():
        if not FACTOR_MIN <= factor <= FACTOR_MAX:
            raise UnfitBrews(
                f"the brews need a factor of {factor:.3g}; {FACTOR_MIN:g} to {FACTOR_MAX:g} can be believed",
                reason="implausible",
            )


def _columns(brews: Sequence[Brew]) -> Numbers:
    """Give what each factor explains of each brew: one column, or two where they can be told apart."""
    both = np.array(
        [(brew.boil_ibu / brew.measured_bu, brew.whirlpool_ibu / brew.measured_bu) for brew in brews]
    )
    return both if _tells_apart(both) else both.sum(axis=1, keepdims=True)


def _tells_apart(both: Numbers) -> bool:
    lengths = np.linalg.norm(both, axis=0)
    if len(both) < FEWEST_BREWS_FOR_WHIRLPOOL or not lengths.all():
        return False
    # Each brew is left out in turn later, so the others must still tell the two apart.
    return all(
        np.linalg.cond(rest / np.maximum(np.linalg.norm(rest, axis=0), 1e-12)) <= LARGEST_CONDITION
        for rest in (np.delete(both, place, axis=0) for place in range(len(both)))
    )


def _solve(columns: Numbers) -> Numbers:
    return np.asarray(np.linalg.lstsq(columns, np.ones(len(columns)))[0], dtype=float)


def _left_out_errors(columns: Numbers) -> Numbers:
    """Give each brew's relative error when it is predicted from the others: residual/(1 - leverage)."""
    leverages = np.einsum("ij,ji->i", columns, np.linalg.pinv(columns))
    errors: Numbers = (columns @ _solve(columns) - 1) / (1 - leverages)
    return errors
