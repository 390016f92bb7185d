"""A brewery's own utilization: the brews it was learnt from, and when it may be used."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from service.errors import UnfitBrews
from service.facts import Fact
from service.science.brewhouse import Brew as FittedBrew
from service.science.brewhouse import BrewhouseFit, fit_brewhouse


class PastBrew(Fact, frozen=True, kw_only=True):
    """One brew whose bitterness a laboratory measured; `told` is the brew as the brewery wrote it down."""

    brewed_on: date
    measured_bu: float
    boil_ibu: float
    whirlpool_ibu: float
    told: Mapping[str, Any]


class UtilizationFit(Fact, frozen=True, kw_only=True):
    """Factors on a base model, learnt from past brews; the code counts within the brewery."""

    code: str
    brewery_code: str
    fit: BrewhouseFit
    brews: tuple[PastBrew, ...]
    note: str | None
    made_at: datetime
    made_by: str


def fit_past_brews(brews: Sequence[PastBrew], *, base_model: str, alpha_basis: str) -> BrewhouseFit:
    """Learn the factors from past brews.

    Raises:
        UnfitBrews: too few brews, brews that contradict each other, or factors nobody would believe.
        OutOfRange: a brew's figures lie outside what can be fitted.

    """
    return fit_brewhouse(
        brews=[
            FittedBrew(boil_ibu=brew.boil_ibu, whirlpool_ibu=brew.whirlpool_ibu, measured_bu=brew.measured_bu)
            for brew in brews
        ],
        base_model=base_model,
        alpha_basis=alpha_basis,
    )


def choose_fit(
    fits: Sequence[UtilizationFit], *, alpha_basis: str, code: str | None = None
) -> UtilizationFit:
    """The fit that is named, else the newest one on this alpha; `fits` come oldest first.

    Raises:
        UnfitBrews: there is none, or none on this alpha.

    """
    if code is not None:
        named = next((fit for fit in fits if fit.code == code), None)
        if named is None:
            raise UnfitBrews(f"the brewery has no utilization {code}", reason="no-fit")
        return named
    fitting = [fit for fit in fits if fit.fit.alpha_basis == alpha_basis]
    if fitting:
        return fitting[-1]
    if fits:
        raise UnfitBrews(
            f"the brewery's utilization was fitted on {fits[-1].fit.alpha_basis} alpha; on {alpha_basis} alpha "
            "ageing would count wrongly",
            reason="alpha-basis",
        )
    raise UnfitBrews("the brewery has no utilization of its own yet", reason="no-fit")
