"""Every published or derived check of lab analysis, storage index, storage loss and moisture, one by one.

The data file carries source and mark beside each check; this file says which function answers it.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from service.errors import OutOfRange
from service.science.lab import (
    alpha_percent_from_absorbance,
    beta_percent_from_absorbance,
    dilution_factor,
    hop_storage_index_from_absorbance,
    lead_value_excess_fraction,
)
from service.science.moisture import (
    bag_reading_g,
    dried_weight_kg,
    dry_matter_percent,
    dry_percent_from_as_is,
    moisture_now_percent,
    percent_at_moisture,
    wet_dry_ratio,
)
from service.science.moisture_trade import contract_weight_kg, implied_green_moisture_percent, wet_for_dry_kg
from service.science.storage import (
    HALVING_C,
    REFERENCE_C,
    alpha_left_percent,
    rate_per_day,
    temperature_factor,
)
from service.science.storage_index import (
    alpha_left_between_indices_percent,
    index_from_resin_loss,
    resin_loss_percent,
)
from service.science.storage_index_spread import CROP_YEAR_SLOPES_PERCENT, resin_loss_sd_points

Inputs = dict[str, Any]
CHECKS = json.loads((Path(__file__).parent.parent / "data" / "checks_lab_storage.json").read_text("utf-8"))


def _dilution(i: Inputs) -> float:
    # The printed form knows no extract volume and no sample mass: it means 5 g in 100 mL.
    return dilution_factor(
        extract_ml=i.get("V_ext", 100),
        sample_g=i.get("m", 5),
        volume_a_ml=i["V_A"],
        volume_b_ml=i["V_B"],
        aliquot_extract_ml=i["a_E"],
        aliquot_a_ml=i["a_A"],
    )


def _spectrum(i: Inputs) -> dict[str, float]:
    return {"a275": i["A275"], "a325": i["A325"], "a355": i["A355"], "dilution_factor": i["d"]}


def _between_indices(i: Inputs) -> float:
    return alpha_left_between_indices_percent(
        alpha_then_percent=i["alpha_then"], index_then=i["HSI_then"], index_now=i["HSI_now"]
    )


def _mean_slope(i: Inputs) -> float:
    assert list(CROP_YEAR_SLOPES_PERCENT.values()) == i["slopes"]
    return sum(CROP_YEAR_SLOPES_PERCENT.values()) / len(CROP_YEAR_SLOPES_PERCENT)


def _ratio_per_ten_degrees(i: Inputs) -> float:
    assert i["halving_per_C"] == HALVING_C
    return temperature_factor(temperature_c=REFERENCE_C) / temperature_factor(temperature_c=REFERENCE_C - 10)


def _after_storage(i: Inputs) -> float | list[float]:
    def left(alpha_percent: float, lost_percent: float) -> float:
        return alpha_left_percent(
            alpha_percent=alpha_percent,
            lost_6_months_percent=lost_percent,
            temperature_c=i["T"],
            packing_factor=i["SF"],
            days=i["days"],
        )

    if isinstance(i["L6"], list):
        return [100 - left(100, lost_percent) for lost_percent in i["L6"]]
    return left(i["A0"], i["L6"])


def _dry_matter(i: Inputs) -> dict[str, float]:
    dry_percent = dry_matter_percent(tare_g=i["tare_g"], green_g=i["green_g"], dry_g=i["dry_g"])
    return {"dry_matter_pct": dry_percent, "moisture_pct": 100 - dry_percent}


def _dried(i: Inputs) -> dict[str, float]:
    moistures = {"green_moisture_percent": i["M0_pct"], "dry_moisture_percent": i["Mt_pct"]}
    return {
        "dry_kg": dried_weight_kg(green_kg=i["W0_kg"], **moistures),
        "wet_dry_ratio": wet_dry_ratio(**moistures),
    }


def _bag(i: Inputs) -> dict[str, float]:
    reading_g = bag_reading_g(
        green_g=i["W0_g"],
        green_moisture_percent=i["M0_pct"],
        dry_moisture_percent=i["Mt_pct"],
        bag_g=i["bag_g"],
    )
    return {"hops_g": reading_g - i["bag_g"], "bag_reads_g": reading_g}


def _moisture_now(i: Inputs) -> float:
    return moisture_now_percent(
        green_g=i["W0_g"],
        green_moisture_percent=i["M0_pct"],
        bag_g=i["bag_g"],
        reading_g=i["bag_reads_g"],
    )


def _basis(i: Inputs) -> list[float]:
    return [
        percent_at_moisture(
            value_percent=i["value"],
            sample_moisture_percent=i["M_pct"],
            wanted_moisture_percent=0 if wanted == "dry matter" else wanted,
        )
        for wanted in i["to"]
    ]


def _contract(i: Inputs) -> float:
    return contract_weight_kg(
        weight_kg=i["W_kg"], moisture_percent=i["M_pct"], contract_moisture_percent=i["contract_M_pct"]
    )


def _implied(i: Inputs) -> float | dict[str, float]:
    ratio = i["ratio"] if "ratio" in i else i["fresh"] / i["dry"]
    moisture_percent = implied_green_moisture_percent(ratio=ratio, dry_moisture_percent=i["Mt_pct"])
    return moisture_percent if "ratio" in i else {"ratio": ratio, "M0_pct": moisture_percent}


def _wet_for_dry(i: Inputs) -> float:
    return wet_for_dry_kg(
        dry_kg=i["dry_kg"], dry_moisture_percent=i["dry_M_pct"], wet_moisture_percent=i["wet_M_pct"]
    )


def _refused(i: Inputs) -> str:
    with pytest.raises(OutOfRange):
        _dry_matter(i) if "tare_g" in i else _dried(i)
    return "refused"


ANSWERS: dict[str, Callable[[Inputs], Any]] = {
    "dilution_factor": _dilution,
    "alpha_spectro": lambda i: alpha_percent_from_absorbance(**_spectrum(i)),
    "beta_spectro": lambda i: beta_percent_from_absorbance(**_spectrum(i)),
    "hsi_ratio": lambda i: hop_storage_index_from_absorbance(a275=i["A275"], a325=i["A325"]),
    "dry_basis": lambda i: dry_percent_from_as_is(
        as_is_percent=i["alpha"], moisture_percent=i["moisture_pct"]
    ),
    "lcv_excess": lambda i: lead_value_excess_fraction(hop_storage_index=i["HSI"]).estimate,
    "loss_from_hsi": lambda i: resin_loss_percent(hop_storage_index=i["HSI"]),
    "loss_from_hsi_slope": lambda i: resin_loss_percent(hop_storage_index=i["HSI"], slope_percent=i["slope"]),
    "mean_slope": _mean_slope,
    "hsi_uncertainty": lambda i: resin_loss_sd_points(cv_percent=100 * i["CV"]),
    "remaining_between_two_hsi": _between_indices,
    "hsi_from_loss": lambda i: index_from_resin_loss(resin_loss_percent=i["loss_pct"]),
    "rate_k": lambda i: rate_per_day(lost_6_months_percent=i["L6"]),
    "temperature_factor": lambda i: temperature_factor(temperature_c=i["T"]),
    "q10": _ratio_per_ten_degrees,
    "alpha_after_storage": _after_storage,
    "dry_matter": _dry_matter,
    "target_weight": _dried,
    "bag_reading": _bag,
    "moisture_now": _moisture_now,
    "basis_conversion": _basis,
    "contract_weight": _contract,
    "implied_green_moisture": _implied,
    "wet_for_dry": _wet_for_dry,
    "refusal": _refused,
}


@pytest.mark.parametrize("check", CHECKS, ids=[check["id"] for check in CHECKS])
def test_check_is_answered_as_published(check: Inputs) -> None:
    answer = ANSWERS[check["formula"]](check["inputs"])

    wanted = check["expected"]
    assert answer == (wanted if wanted == "refused" else pytest.approx(wanted, rel=0, abs=check["tolerance"]))


def test_every_check_has_an_answer_a_source_and_a_mark_that_is_evidence() -> None:
    assert {check["formula"] for check in CHECKS} == set(ANSWERS)
    assert len({check["id"] for check in CHECKS}) == len(CHECKS) == 68
    assert all(check["source"] for check in CHECKS)
    assert {check["mark"] for check in CHECKS} == {"read", "quoted", "derived"}
