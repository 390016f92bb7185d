"""A brewery's own utilization: the measured brews it keeps, the fit that follows from them, the method it gives."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from service.facts import Fact, replace
from service.market.brewing.base_methods import BASE_METHODS, BREWHOUSE, base_ibus
from service.market.brewing.brew_making import make_brew
from service.market.brewing.brews import Brew, Recoveries
from service.market.brewing.methods import (
    ALWAYS,
    Method,
    Used,
    hot_additions,
    recoveries_not_used,
    utilizations_of_brewhouse,
)
from service.market.goods.lots import Lot
from service.science.brewhouse import ALPHA_BASES, BrewhouseFit, fit_brewhouse, unseen_brew_reach_log
from service.science.brewhouse import Brew as FittedBrew
from service.science.uncertainty import HalfWidths

# The fit rests on the newest of a brewery's brews: house figure.
MOST_BREWS = 200


class MeasuredBrew(Fact, frozen=True, kw_only=True):
    """One brew whose bitterness a laboratory measured.

    `told` is the brew as the brewery wrote it down. `hops` holds the form of each addition and its alpha on each
    basis as of the day it was filed, so that the fit stays the same when a lot is sold or its report corrected;
    a brew that rested on a wrong report is taken back and filed again.
    """

    code: str
    brewery_code: str
    brewed_on: date
    measured_bu: float
    told: Mapping[str, Any]
    hops: tuple[Mapping[str, Any], ...]
    note: str | None
    filed_at: datetime
    filed_by: str


class ReckonedBrew(Fact, frozen=True, kw_only=True):
    """A measured brew beside what the base method gives for it."""

    brew: MeasuredBrew
    boil_ibu: float
    whirlpool_ibu: float
    predicted_ibu: float


class UtilizationFit(Fact, frozen=True, kw_only=True):
    """Factors on a base method, learnt from the brews that a brewery keeps."""

    brewery_code: str
    fit: BrewhouseFit
    brews: tuple[ReckonedBrew, ...]


class OwnUtilization(Fact, frozen=True, kw_only=True):
    """How many measured brews a brewery keeps, and whether an answer was reckoned with them."""

    brewery_code: str
    brews: int
    is_used: bool


def hops_of_brew(
    told: Mapping[str, Any], *, lots: Mapping[str, Lot], on: date
) -> tuple[Mapping[str, Any], ...]:
    """The form of each addition, and its alpha on the day of the brew, on each basis.

    Raises:
        FigureMissing, InvalidRequest, NoStorageModel: as `make_brew`.

    """
    brew_by_basis = {basis: make_brew(told, lots=lots, on=on, alpha_basis=basis) for basis in ALPHA_BASES}
    return tuple(
        {
            "form": brew_by_basis[ALPHA_BASES[0]].additions[place].form,
            **{basis: brew.additions[place].alpha.percent for basis, brew in brew_by_basis.items()},
        }
        for place in range(len(told["additions"]))
    )


def accept_measured_brew(brew: MeasuredBrew) -> MeasuredBrew:
    """Let a measured brew in: every base method must be able to reckon it.

    Raises:
        InvalidRequest: an addition lacks its time or its temperature.
        OutOfRange: a figure outside what a method reaches, or no bitterness to compare with.

    """
    for base_model in BASE_METHODS:
        for basis in ALPHA_BASES:
            boil, whirlpool = _figures(brew, base_model=base_model, alpha_basis=basis)
            FittedBrew(boil_ibu=boil, whirlpool_ibu=whirlpool, measured_bu=brew.measured_bu)
    return brew


def _figures(brew: MeasuredBrew, *, base_model: str, alpha_basis: str) -> tuple[float, float]:
    additions = []
    for told, hops in zip(brew.told["additions"], brew.hops, strict=True):
        form = {"form": hops["form"]} if hops["form"] else {}
        plain = {name: value for name, value in told.items() if name != "lot_code"}
        additions.append({**plain, **form, "alpha_percent": hops[alpha_basis]})
    asked = {**brew.told, "additions": additions}
    again = make_brew(asked, lots={}, on=brew.brewed_on, alpha_basis=alpha_basis)
    return base_ibus(again, base=BASE_METHODS[base_model])


def fit_of_brews(
    brewery_code: str, brews: Sequence[MeasuredBrew], *, base_model: str, alpha_basis: str
) -> UtilizationFit:
    """Learn a brewery's factors from the brews it keeps.

    Raises:
        UnfitBrews: too few brews, brews that contradict each other, or factors nobody would believe.

    """
    figures = [_figures(brew, base_model=base_model, alpha_basis=alpha_basis) for brew in brews]
    fit = fit_brewhouse(
        brews=[
            FittedBrew(boil_ibu=boil, whirlpool_ibu=whirlpool, measured_bu=brew.measured_bu)
            for brew, (boil, whirlpool) in zip(brews, figures, strict=True)
        ],
        base_model=base_model,
        alpha_basis=alpha_basis,
    )
    return UtilizationFit(
        brewery_code=brewery_code,
        fit=fit,
        brews=tuple(
            ReckonedBrew(
                brew=brew,
                boil_ibu=boil,
                whirlpool_ibu=whirlpool,
                predicted_ibu=fit.factor * boil + fit.whirlpool_factor * whirlpool,
            )
            for brew, (boil, whirlpool) in zip(brews, figures, strict=True)
        ),
    )


def brewhouse_method(own: UtilizationFit) -> Method:
    """The method that a brewery's fit gives: its base method times its own factors.

    What the fit has not seen keeps the base method's scatter: a whirlpool where the brews gave it no factor of
    its own, wet hops, first wort hops. The scatter of brews made with many lots holds that of their alpha already,
    and it counts once more with the new lot: the wider reading, since brews of one lot do not show it.
    """
    fit = own.fit
    base = BASE_METHODS[fit.base_model]
    ratios: dict[str, tuple[str, ...]] = {
        "wet_hop": ("wet_hop_utilization_ratio",),
        "first_wort": ("first_wort_factor",),
    }
    rows: dict[str, tuple[str, ...]] = {}
    if not fit.has_own_whirlpool_factor:
        ratios["whirlpool"] = tuple(
            name for need in (ALWAYS, "whirlpool") for name in base.ratios_by_need.get(need, ())
        )
        rows["whirlpool"] = tuple(name for names in base.rows_by_need.values() for name in names)

    def uses(brew: Brew) -> tuple[Used, ...]:
        return tuple(_own_uses(brew, fit, base))

    def words(brew: Brew) -> Iterator[str]:
        yield from base.words_of_brewhouse(brew)
        yield _fit_words(fit)
        if not fit.has_own_whirlpool_factor and any(a.at == "whirlpool" for a in brew.additions):
            yield (
                "the brews gave the whirlpool no factor of its own, so whirlpool hops keep the scatter of the "
                f"{fit.base_model} method beside the brewery's"
            )

    def inputs_not_used(brew: Brew) -> Iterator[str]:
        yield from dict.fromkeys([*base.inputs_not_used(brew), *recoveries_not_used(brew)])

    return Method(
        code=BREWHOUSE,
        base_model=base.code,
        reach=base.reach,
        uses=uses,
        uses_of_brewhouse=base.uses_of_brewhouse,
        ratios_by_need=ratios,
        rows_by_need=rows,
        sources_by_need=base.sources_by_need,
        words=words,
        words_of_brewhouse=words,
        inputs_not_used=inputs_not_used,
    )


def _own_uses(brew: Brew, fit: BrewhouseFit, base: Method) -> Iterator[Used]:
    together = _reach(fit, _whirlpool_share(brew, fit, base))
    by_default = replace(brew, recoveries=Recoveries())
    for addition, bare, plain in zip(
        hot_additions(brew), base.uses_of_brewhouse(brew), base.uses(by_default), strict=True
    ):
        stands = addition.at == "whirlpool"
        unlearnt = plain.scatter if stands and not fit.has_own_whirlpool_factor else {}
        yield Used(
            percent=bare.percent * (fit.whirlpool_factor if stands else fit.factor),
            scatter={BREWHOUSE: _reach(fit, 1.0 if stands else 0.0), **unlearnt},
            scatter_in_brew={BREWHOUSE: together, **unlearnt},
            cautions=bare.cautions,
        )


def _reach(fit: BrewhouseFit, whirlpool_share: float) -> HalfWidths:
    reach = unseen_brew_reach_log(fit=fit, whirlpool_share=whirlpool_share)
    return HalfWidths(reach, reach)


def _whirlpool_share(brew: Brew, fit: BrewhouseFit, base: Method) -> float:
    """The part of a brew's bitterness that comes from its whirlpool, by the brewery's own factors."""
    boil = whirlpool = 0.0
    for addition, used in zip(brew.additions, utilizations_of_brewhouse(brew, base), strict=True):
        given = (used.percent or 0.0) * addition.form_factor * addition.alpha.percent * addition.mass_g
        if addition.at == "whirlpool":
            whirlpool += fit.whirlpool_factor * given
        else:
            boil += fit.factor * given
    return whirlpool / (boil + whirlpool) if boil + whirlpool else 0.0


def _fit_words(fit: BrewhouseFit) -> str:
    return (
        f"the brewery's own factors on {fit.base_model}: {fit.factor:.3g} for boil and first wort, "
        f"{fit.whirlpool_factor:.3g} for the whirlpool, from {fit.brews} brews on {fit.alpha_basis} alpha; each "
        f"brew predicted from the others was missed by {100 * fit.left_out_error_log:.1f} %, and the "
        f"interval is by Student's t for {fit.brews} brews"
    )
