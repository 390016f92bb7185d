"""A brew made ready from what was asked and the lots it names: gravities, forms, and each addition's alpha."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from service.errors import InvalidRequest
from service.market.brewing.alpha_in_use import alpha_as_told, alpha_of_lot, alpha_of_wet_hops
from service.market.brewing.brews import Addition, Alpha, Brew, Kettle, Recoveries, Wort
from service.market.goods.lab_reports import Figures, standing_figures
from service.market.goods.lots import Lot
from service.market.storage.storage import StoragePlan
from service.science.bitterness import sg_from_plato

NOWHERE: Mapping[str, Any] = {}


def lot_codes(additions: Sequence[Mapping[str, Any]]) -> list[str]:
    """The lots that additions name, each once."""
    return list(dict.fromkeys(a["lot_code"] for a in additions if a.get("lot_code")))


def make_brew(
    asked: Mapping[str, Any],
    *,
    lots: Mapping[str, Lot],
    on: date,
    alpha_basis: str,
    plan: StoragePlan | None = None,
    pointer: str = "#",
) -> Brew:
    """Put a brew together; a lot's alpha is reckoned once, however many additions name it.

    Raises:
        FigureMissing: a lot of dried hops has no alpha.
        InvalidRequest: a form that is not the lot's, or a day before the lot's sampling.
        NoStorageModel: nothing is known of how a lot is stored.

    """
    known: dict[str, tuple[Alpha, Figures]] = {}
    additions = []
    for place, told in enumerate(asked["additions"]):
        where = told.get("pointer", f"{pointer}/additions/{place}")
        lot = lots[told["lot_code"]] if told.get("lot_code") else None
        if lot is None:
            made = _addition(told, _told_alpha(told), form=told.get("form"), pointer=where)
        else:
            _check_form(told, lot, where)
            if lot.code not in known:
                figures = standing_figures(lot.reports)
                alpha = alpha_of_lot(lot, basis=alpha_basis, on=on, plan=plan, pointer=where, figures=figures)
                known[lot.code] = alpha, figures
            made = _of_lot(told, *known[lot.code], lot, pointer=where)
        additions.append(made)
    kettle, recoveries = asked.get("kettle") or NOWHERE, asked.get("recoveries") or NOWHERE
    readings = kettle.get("readings") or NOWHERE
    wort = asked["wort"]
    return Brew(
        wort=Wort(
            volume_l=wort["volume_l"],
            gravity_sg=_gravity_sg(wort) or 1.0,
            volume_of=wort.get("volume_of", "finished_beer"),
            elevation_m=wort.get("elevation_m"),
        ),
        additions=tuple(additions),
        kettle=Kettle(
            boil_minutes=kettle.get("boil_minutes"),
            at_minutes=tuple(readings.get("at_minutes", ())),
            temperatures_c=tuple(readings.get("temperatures_c", ())),
        ),
        recoveries=Recoveries(**recoveries),
        pointer=pointer,
    )


def _gravity_sg(told: Mapping[str, Any]) -> float | None:
    if told.get("gravity_plato") is not None:
        return sg_from_plato(gravity_plato=told["gravity_plato"])
    gravity: float | None = told.get("gravity_sg")
    return gravity


def _told_alpha(told: Mapping[str, Any]) -> Alpha:
    if told.get("alpha_percent") is None:
        return alpha_of_wet_hops()
    return alpha_as_told(told["alpha_percent"], form=told.get("form"))


def _check_form(told: Mapping[str, Any], lot: Lot, pointer: str) -> None:
    if told.get("form") not in (None, lot.form):
        text = f"lot {lot.code} is {lot.form}, not {told['form']}"
        raise InvalidRequest(text, errors=[{"pointer": f"{pointer}/form", "detail": text}])


def _of_lot(told: Mapping[str, Any], alpha: Alpha, figures: Figures, lot: Lot, *, pointer: str) -> Addition:
    oil, moisture = figures.oil_ml_per_100g, figures.moisture_percent
    return _addition(
        told,
        alpha,
        form=lot.form,
        pointer=pointer,
        moisture_percent=moisture.value if moisture else None,
        oil_ml_per_100g=oil.value if oil else None,
        oil_shares_percent=figures.oil_shares_percent,
        oil_shares_basis=figures.oil_shares_basis,
    )


def _addition(told: Mapping[str, Any], alpha: Alpha, *, form: str | None, **known: Any) -> Addition:
    return Addition(
        alpha=alpha,
        mass_g=told["mass_g"],
        at=told["at"],
        minutes=told.get("minutes"),
        temperature_c=told.get("temperature_c"),
        gravity_sg=_gravity_sg(told),
        form=form,
        form_factor=1.0 if told.get("form_factor") is None else told["form_factor"],
        **known,
    )
