"""Published values about kettle, bitterness, altitude, oil and exchange, each with source and mark."""

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from service.reference.cultivars import find_cultivar
from service.science import (
    beer_bitterness,
    bitterness,
    boiling,
    cooling,
    customary,
    customary_doses,
    dosing,
    dry_hop,
    hop_creep,
    interchange,
    isomerization,
    kettle,
    oil,
    recoveries,
)

CHECKS = json.loads((Path(__file__).parents[1] / "data" / "checks_kettle_oil.json").read_text("utf-8"))
CHECK_BY_ID = {check["id"]: check for check in CHECKS}
GAS_CONSTANT_J_PER_MOL_K = 8.314462
FEET_PER_M = 1 / 0.3048
PARTS = ("myrcene", "humulene", "caryophyllene", "farnesene")


def activation_energy(t_coefficient_k: float) -> float:
    assert t_coefficient_k == isomerization.ISOMERIZATION_COEFFICIENT_K
    return t_coefficient_k * GAS_CONSTANT_J_PER_MOL_K / 1000


def iso_yield(t: float, minutes: float) -> float:
    return isomerization.iso_alpha_fraction(temperature_c=t, minutes=minutes)


def iso_by_profile(stretch: kettle.Stretch) -> float:
    return kettle.kettle_yields(profile=[stretch], added_at_minutes=[0])[0].iso_fraction


def hop_stand(b: float, minutes: float) -> float:
    return iso_by_profile(
        kettle.Cooling(minutes=minutes, from_c=46.40 + 53.70, surroundings_c=46.40, rate_per_minute=b)
    )


def tinseth(gravity: float, minutes: float) -> float:
    return round(bitterness.tinseth_utilization_percent(gravity_sg=gravity, minutes=minutes) / 100, 3)


def tinseth_ratio(gravity: float, reference_gravity: float) -> float:
    return bitterness.tinseth_utilization_percent(
        gravity_sg=gravity, minutes=60
    ) / bitterness.tinseth_utilization_percent(gravity_sg=reference_gravity, minutes=60)


def tinseth_ibu(**given: Any) -> float:
    if "sum_of" in given:
        return sum(tinseth_ibu(**CHECK_BY_ID[name]["inputs"]) for name in given["sum_of"])
    grams = given["grams"] if "grams" in given else customary.g_from_oz(mass_oz=given["oz"])
    litres = (
        given["litres"] if "litres" in given else customary.l_from_us_gallon(volume_us_gallon=given["us_gal"])
    )
    used = bitterness.tinseth_utilization_percent(gravity_sg=given["gravity"], minutes=given["minutes"])
    return bitterness.ibu(
        utilization_percent=used, alpha_percent=given["alpha"], mass_g=grams, volume_l=litres
    )


def mg_per_l(oz: float, us_gal: float) -> float:
    return beer_bitterness.alpha_added_mg_per_l(
        alpha_percent=100,
        mass_g=customary.g_from_oz(mass_oz=oz),
        volume_l=customary.l_from_us_gallon(volume_us_gallon=us_gal),
    )


def boiling_point(metres: float | None = None, feet: float | None = None) -> float:
    if metres is not None:
        return boiling.boiling_point_c(elevation_m=metres)
    assert feet is not None
    return customary.fahrenheit_from_celsius(
        temperature_c=boiling.boiling_point_c(elevation_m=feet / FEET_PER_M)
    )


def relative_rate(t: float | None = None, metres: float = 0) -> float:
    temperature_c = boiling.boiling_point_c(elevation_m=metres) if t is None else t
    return isomerization.relative_isomerization_rate(temperature_c=temperature_c)


def cooling_fit(litres: float, area_cm2: float, covered_pct: float, minutes: float) -> float:
    return cooling.cooling_temperature_c(
        volume_l=litres,
        wort_area_cm2=area_cm2,
        opening_area_cm2=area_cm2,
        minutes=minutes,
        covered_percent=covered_pct,
    )


def dose_g_per_l(lb_per_bbl: float) -> float:
    return customary_doses.g_per_hl_from_lb_per_us_barrel(dose_lb_per_us_barrel=lb_per_bbl) / 100


def dissolved(measured_mg_l: float, lb_per_bbl: float, content_pct: float) -> float:
    return dry_hop.dissolved_fraction(
        measured_mg_per_l=measured_mg_l, dose_g_per_l=dose_g_per_l(lb_per_bbl), content_percent=content_pct
    )


def shares(name: str) -> dict[str, float]:
    cultivar = find_cultivar(name)
    assert cultivar is not None
    middle = {figure.quantity: (figure.low + figure.high) / 2 for figure in cultivar.figures}
    return {part: middle[f"{part}_percent_of_oil"] for part in PARTS}


def humulene_caryophyllene(cultivar: str) -> float:
    found = shares(cultivar)
    return oil.humulene_caryophyllene_ratio(
        humulene_percent=found["humulene"], caryophyllene_percent=found["caryophyllene"]
    )


def plain_oil_distance(pair: list[str]) -> float:
    one, other = (shares(name) for name in pair)
    return math.dist(list(one.values()), list(other.values()))


def storage_order(cultivars: list[str]) -> list[str]:
    def kept(name: str) -> float:
        cultivar = find_cultivar(name)
        assert cultivar is not None
        row = cultivar.storage_figures[0]
        ends = [end for end in (row.remaining_percent_low, row.remaining_percent_high) if end is not None]
        return sum(ends) / len(ends)

    return sorted(cultivars, key=kept, reverse=True)


COMPUTED: dict[str, Callable[..., Any]] = {
    "activation_energy": activation_energy,
    "k1": lambda t: isomerization.isomerization_rate_per_minute(temperature_c=t),
    "k2": lambda t: isomerization.degradation_rate_per_minute(temperature_c=t),
    "iso_yield": iso_yield,
    "iso_only_loss": lambda t, minutes: 1 - isomerization.iso_left_fraction(temperature_c=t, minutes=minutes),
    "time_of_maximum": lambda t: isomerization.time_of_maximum_minutes(temperature_c=t),
    "half_life_alpha": lambda t: isomerization.alpha_half_life_minutes(temperature_c=t),
    "iso_ode": lambda t, minutes: iso_by_profile(kettle.Hold(minutes=minutes, temperature_c=t)),
    "hop_stand_ode": hop_stand,
    "tinseth_utilisation": tinseth,
    "tinseth_utilisation_ratio": tinseth_ratio,
    "tinseth_ibu": tinseth_ibu,
    "mg_per_L_constant": mg_per_l,
    "bu_from_a275": lambda a275: beer_bitterness.bu_from_absorbance(absorbance_275nm=a275),
    "bu_of_pure_iso": lambda iso_mg_l: beer_bitterness.bu_from_iso(iso_mg_per_l=iso_mg_l),
    "a275_of_pure_iso": lambda iso_mg_l: beer_bitterness.absorbance_from_iso(iso_mg_per_l=iso_mg_l),
    "wort_to_beer": lambda wort_pct, cellar_loss_pct: recoveries.beer_share_percent(
        wort_share_percent=wort_pct, cellar_loss_percent=cellar_loss_pct
    ),
    "boiling_point": boiling_point,
    "rate_relative_to_100C": relative_rate,
    "wort_elevation": lambda plato: boiling.wort_elevation_c(gravity_plato=plato),
    "if97_saturation": lambda p_mpa: boiling.water_boiling_point_c(pressure_pa=p_mpa * 1e6) + 273.15,
    "pressure": lambda metres: boiling.pressure_pa(elevation_m=metres),
    "antoine": lambda p_mmhg: boiling.water_boiling_point_c(pressure_pa=p_mmhg * 133.322),
    "cooling_fit": cooling_fit,
    "lb_bbl_to_g_hL": lambda lb_per_bbl: 100 * dose_g_per_l(lb_per_bbl),
    "humulinone_ceiling": lambda lb_per_bbl, humulinone_pct: dry_hop.ceiling_mg_per_l(
        dose_g_per_l=dose_g_per_l(lb_per_bbl), content_percent=humulinone_pct
    ),
    "dissolved_share": dissolved,
    "sensory_bitterness": lambda iso, humulinones, hulupones, alpha: dry_hop.sensory_bitterness_iso_mg_per_l(
        iso_mg_per_l=iso,
        humulinones_mg_per_l=humulinones,
        hulupones_mg_per_l=hulupones,
        alpha_mg_per_l=alpha,
    ),
    "creep_co2": lambda extract_drop_p: hop_creep.creep_carbon_dioxide_volumes(
        extract_drop_plato=extract_drop_p
    ),
    "creep_abv": lambda extract_drop_p: hop_creep.creep_alcohol_percent(extract_drop_plato=extract_drop_p),
    "oil_dose": lambda g_per_hl, oil_ml_per_100g: oil.oil_dosed_ml_per_hl(
        dose_g_per_hl=g_per_hl, oil_ml_per_100g=oil_ml_per_100g
    ),
    "oil_left_the_hop": lambda g_per_hl, oil_ml_per_100g, kept_pct: oil.oil_left_hops_ml_per_hl(
        dose_g_per_hl=g_per_hl, oil_ml_per_100g=oil_ml_per_100g, kept_percent=kept_pct
    ),
    "caryophyllene_from_HC": lambda h_over_c, humulene_pct: oil.caryophyllene_percent_from_ratio(
        humulene_percent=humulene_pct, ratio=h_over_c
    ),
    "percent_lost_mapping": lambda asbc_hsi, l6: {
        "percent_lost": interchange.percent_lost(lost_in_six_months_percent=l6, hop_storage_index=asbc_hsi)
    },
    "amount_to_grams": lambda value, unit: interchange.amount_g(value=value, unit=unit),
    "days_to_minutes": lambda days: interchange.duration_minutes(value=days, unit="day"),
    "humulene_caryophyllene_ratio": humulene_caryophyllene,
    "plain_oil_distance": plain_oil_distance,
    "storage_order": storage_order,
    "equal_alpha_mass": lambda mass1_g, alpha1, alpha2: dosing.mass_g_at_equal_bitterness(
        mass_g=mass1_g, alpha_percent=alpha1, other_alpha_percent=alpha2
    ),
}


@pytest.mark.parametrize("check", CHECKS, ids=[check["id"] for check in CHECKS])
def test_a_published_value_is_met(check):
    answer = COMPUTED[check["formula"]](**check["inputs"])

    if isinstance(check["expected"], int | float):
        assert answer == pytest.approx(check["expected"], rel=0, abs=check["tolerance"])
    else:
        assert answer == check["expected"]


def test_every_check_is_used_once_and_has_source_and_mark():
    assert len(CHECK_BY_ID) == len(CHECKS) == 100
    assert {check["formula"] for check in CHECKS} == set(COMPUTED)
    assert all(check["source"] and check["mark"] != "memory" for check in CHECKS)
