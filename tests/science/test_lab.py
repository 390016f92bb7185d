"""Absorbances to lab values: the published example stands in the published checks; here laws and refusals."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import FigureMissing, NoCorrection, OutOfRange
from service.science.lab import (
    ALPHA_WEIGHTS,
    BETA_WEIGHTS,
    alpha_percent_from_absorbance,
    alpha_percent_from_lead_conductance,
    beta_percent_from_absorbance,
    dilution_factor,
    hop_storage_index_from_absorbance,
    lead_value_excess_fraction,
)

DILUTION = {
    "extract_ml": 100.0,
    "sample_g": 5.0,
    "volume_a_ml": 100.0,
    "volume_b_ml": 50.0,
    "aliquot_extract_ml": 5.0,
    "aliquot_a_ml": 3.0,
}


def test_dilution_factor_refuses_the_ten_millilitres_of_a_miscopied_example() -> None:
    with pytest.raises(OutOfRange, match="10 mL is too little for 5 g of hops") as refusal:
        dilution_factor(**DILUTION | {"extract_ml": 10.0})

    assert refusal.value.facts == {
        "name": "extract_ml",
        "value": 10.0,
        "low": 25.0,
        "high": 10000,
        "unit": "mL",
    }


def test_dilution_factor_takes_a_small_extract_of_a_small_sample() -> None:
    small = dilution_factor(**DILUTION | {"extract_ml": 10.0, "sample_g": 0.5})

    assert small == pytest.approx(dilution_factor(**DILUTION))


@pytest.mark.parametrize(
    "wrong",
    [{"aliquot_a_ml": 51.0}, {"aliquot_extract_ml": 101.0}, {"sample_g": 0}, {"volume_a_ml": math.nan}],
    ids=lambda wrong: next(iter(wrong)),
)
def test_dilution_factor_refuses_what_cannot_be_pipetted(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        dilution_factor(**DILUTION | wrong)


@given(alpha_mg_per_l=st.floats(1, 12), beta_mg_per_l=st.floats(1, 12), residue=st.floats(0.01, 0.2))
def test_a_spectrum_made_of_known_acids_gives_them_back(
    alpha_mg_per_l: float, beta_mg_per_l: float, residue: float
) -> None:
    # The weights are rows of an inverse; any third row that completes them makes a spectrum to be taken apart.
    spectrum = np.linalg.solve(
        np.array([ALPHA_WEIGHTS, BETA_WEIGHTS, (1.0, 0.0, 0.0)]),
        np.array([alpha_mg_per_l, beta_mg_per_l, residue]),
    )
    a275, a325, a355 = (float(absorbance) for absorbance in spectrum)

    alpha = alpha_percent_from_absorbance(a275=a275, a325=a325, a355=a355, dilution_factor=0.5)
    beta = beta_percent_from_absorbance(a275=a275, a325=a325, a355=a355, dilution_factor=0.5)

    assert (alpha, beta) == (pytest.approx(alpha_mg_per_l / 2), pytest.approx(beta_mg_per_l / 2))


def test_alpha_below_nothing_is_refused_and_says_what_to_check() -> None:
    with pytest.raises(
        OutOfRange, match=r"alpha_percent -\d.* cannot be: check that none is exchanged"
    ) as refusal:
        alpha_percent_from_absorbance(a275=0.132, a325=0.3, a355=0.615, dilution_factor=0.66667)

    assert refusal.value.facts["name"] == "alpha_percent"


def test_beta_below_nothing_is_refused() -> None:
    with pytest.raises(OutOfRange, match="beta_percent"):
        beta_percent_from_absorbance(a275=0.132, a325=0.615, a355=0.3, dilution_factor=0.66667)


def test_acids_above_all_are_refused() -> None:
    with pytest.raises(OutOfRange, match="alpha_percent"):
        alpha_percent_from_absorbance(a275=0.1, a325=2.0, a355=0.5, dilution_factor=1.0)


@pytest.mark.parametrize("argument", ["a275", "a325", "a355", "dilution_factor"])
@pytest.mark.parametrize("wrong", [math.nan, math.inf, -0.1, True, "0.5"])
def test_absorbances_that_are_no_readings_are_refused_by_name(argument: str, wrong: object) -> None:
    good: dict[str, object] = {"a275": 0.132, "a325": 0.596, "a355": 0.615, "dilution_factor": 0.66667}

    with pytest.raises(OutOfRange) as refusal:
        alpha_percent_from_absorbance(**good | {argument: wrong})  # type: ignore[arg-type]

    assert refusal.value.facts["name"] == argument


@pytest.mark.parametrize(
    ("a275", "a325"), [(0.1, 0.0), (0.0, 0.5), (1.5, 0.5)], ids=["blank", "none", "over 2.03"]
)
def test_an_index_that_cannot_be_is_refused(a275: float, a325: float) -> None:
    with pytest.raises(OutOfRange):
        hop_storage_index_from_absorbance(a275=a275, a325=a325)


def test_lead_excess_keeps_to_the_published_ranges() -> None:
    # Kvasny Prumysl 63 (2017) 241-247: 10 to 15 % in fresh hops, 25 to 45 % at an index of 0.6 to 0.7.
    fresh = lead_value_excess_fraction(hop_storage_index=0.30)
    aged = lead_value_excess_fraction(hop_storage_index=0.65)

    assert (fresh.low, fresh.estimate, fresh.high) == pytest.approx((0.10, 0.125, 0.15))
    assert (aged.low, aged.estimate, aged.high) == pytest.approx((0.25, 0.35, 0.45), abs=5e-4)


@given(index=st.floats(0.2, 0.7))
def test_lead_excess_lies_inside_its_interval(index: float) -> None:
    excess = lead_value_excess_fraction(hop_storage_index=index)

    assert 0 < excess.low < excess.estimate < excess.high


@given(index=st.floats(0.2, 0.7), lead=st.floats(1, 20), sd_log=st.floats(0, 0.1))
def test_corrected_alpha_lies_under_the_lead_value_and_widens_with_the_laboratory(
    index: float, lead: float, sd_log: float
) -> None:
    def corrected(scatter: float) -> tuple[float, float, float]:
        answer = alpha_percent_from_lead_conductance(
            method="ebc_7_5", lead_alpha_percent=lead, hop_storage_index=index, lab_sd_log=scatter
        )
        return answer.low, answer.estimate, answer.high

    plain, wide = corrected(0.0), corrected(sd_log)

    assert plain[0] < plain[1] < plain[2] < lead
    assert wide[0] <= plain[0]
    assert wide[2] >= plain[2]


@pytest.mark.parametrize("method", ["ebc_7_4", "ebc_7_7", "asbc_hops_14", "other"])
def test_only_ebc_7_5_has_a_correction(method: str) -> None:
    with pytest.raises(NoCorrection) as refusal:
        alpha_percent_from_lead_conductance(method=method, lead_alpha_percent=9.0, hop_storage_index=0.3)

    assert refusal.value.facts == {"method": method}


def test_no_correction_without_an_index() -> None:
    with pytest.raises(FigureMissing):
        alpha_percent_from_lead_conductance(method="ebc_7_5", lead_alpha_percent=9.0, hop_storage_index=None)


@pytest.mark.parametrize("index", [0.19, 0.71, 35.0])
def test_no_correction_where_nothing_was_published(index: float) -> None:
    with pytest.raises(OutOfRange):
        alpha_percent_from_lead_conductance(method="ebc_7_5", lead_alpha_percent=9.0, hop_storage_index=index)
