"""Instrument readings to lab values: absorbances to acids and the storage index, and the lead value's excess.

The spectrophotometric formulas are those of ASBC Hops-6: a toluene extract, diluted in methanol (A) and
then in alkaline methanol (B), read at 275, 325 and 355 nm in a cell of 1 cm.
"""

import math

from service.errors import FigureMissing, NoCorrection, OutOfRange
from service.science.checks import between
from service.science.storage_index import check_hop_storage_index
from service.science.uncertainty import (
    Estimate,
    HalfWidths,
    combine_half_widths,
    estimate_from_half_widths,
    half_widths_from_sd,
)

# ASBC Methods of Analysis, 8th ed. 1992, Hops-6: weights of A275, A325, A355 (quoted).
ALPHA_WEIGHTS = (-19.07, 73.79, -51.56)
BETA_WEIGHTS = (5.10, -47.59, 55.57)

HIGHEST_ABSORBANCE = 4.0
LOWEST_READ_ABSORBANCE = 0.001
SMALLEST_DILUTION_FACTOR = 0.001
LARGEST_DILUTION_FACTOR = 100.0
# The method takes 20 mL of extract per gram of hops. Ground hops are not even wetted by a fourth of that.
LEAST_EXTRACT_ML_PER_G = 5.0

# Kvasny Prumysl 63 (2017) 241-247, doi 10.18832/kp201725: the lead value of EBC 7.5 reads 10 to 15 % above
# HPLC in fresh hops and 25 to 45 % at an index of 0.6 to 0.7, growing exponentially. The lines through
# those ends are derived.
FRESH_INDEX = 0.30
AGED_INDEX = 0.65
FRESH_EXCESS = (0.10, 0.125, 0.15)
AGED_EXCESS = (0.25, 0.35, 0.45)
LOWEST_LEAD_INDEX = 0.20
HIGHEST_LEAD_INDEX = 0.70
# Printed to three figures beside the derived mid-line; ln(0.35/0.125)/0.35 = 2.942.
MID_GROWTH = 2.94


def dilution_factor(
    *,
    extract_ml: float,
    sample_g: float,
    volume_a_ml: float,
    volume_b_ml: float,
    aliquot_extract_ml: float,
    aliquot_a_ml: float,
) -> float:
    """Give the factor that turns the concentration in the cell into per cent of the sample.

    d = V_extract V_A V_B / (10000 m a_extract a_A); with 5 g in 100 mL this is the printed V_A V_B/(500 a_E
    a_A). A circulating copy of the worked example prints 10 mL of toluene where the procedure has 100;
    alpha then comes out ten times too low. Fewer than 5 mL of extract per gram of hops are therefore refused.

    Args:
        extract_ml: volume of the toluene extract, at least 5 mL per gram of sample. [mL] 1..10000
        sample_g: mass of hops extracted. [g] 0.1..1000
        volume_a_ml: volume that dilution A was made up to. [mL] 1..10000
        volume_b_ml: volume that dilution B was made up to. [mL] 1..10000
        aliquot_extract_ml: extract taken into dilution A, not over `volume_a_ml`. [mL] 0.01..10000
        aliquot_a_ml: dilution A taken into dilution B, not over `volume_b_ml`. [mL] 0.01..10000

    Returns:
        The dilution factor. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the extract is too small for the sample.

    Source: ASBC Methods of Analysis, 8th ed. 1992, Hops-6 (quoted); the general form by unit analysis.

    >>> dilution_factor(extract_ml=100, sample_g=5, volume_a_ml=100, volume_b_ml=50, aliquot_extract_ml=5,
    ...                 aliquot_a_ml=3)
    0.6667

    """
    between("sample_g", sample_g, 0.1, 1000, "g")
    between("extract_ml", extract_ml, 1, 10_000, "mL")
    between("volume_a_ml", volume_a_ml, 1, 10_000, "mL")
    between("volume_b_ml", volume_b_ml, 1, 10_000, "mL")
    between("aliquot_extract_ml", aliquot_extract_ml, 0.01, volume_a_ml, "mL")
    between("aliquot_a_ml", aliquot_a_ml, 0.01, volume_b_ml, "mL")
    _refuse_small_extract(extract_ml, sample_g)
    return extract_ml * volume_a_ml * volume_b_ml / (10_000 * sample_g * aliquot_extract_ml * aliquot_a_ml)


def alpha_percent_from_absorbance(*, a275: float, a325: float, a355: float, dilution_factor: float) -> float:
    """Give the alpha acids of the sample, as is, from three absorbances of dilution B.

    alpha = d (-51.56 A355 + 73.79 A325 - 19.07 A275).

    Args:
        a275: absorbance at 275 nm. [-] 0..4
        a325: absorbance at 325 nm. [-] 0..4
        a355: absorbance at 355 nm. [-] 0..4
        dilution_factor: as `dilution_factor` gives it. [-] 0.001..100

    Returns:
        Alpha acids by mass, as is; the method is not specific and reads somewhat higher than HPLC. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the three together give under 0 or over
            100 %.

    Source: ASBC Methods of Analysis, 8th ed. 1992, Hops-6 (quoted).

    >>> alpha_percent_from_absorbance(a275=0.132, a325=0.596, a355=0.615, dilution_factor=0.66667)
    6.5

    """
    return _acids_percent("alpha_percent", ALPHA_WEIGHTS, (a275, a325, a355), dilution_factor)


def beta_percent_from_absorbance(*, a275: float, a325: float, a355: float, dilution_factor: float) -> float:
    """Give the beta acids of the sample, as is, from three absorbances of dilution B.

    beta = d (55.57 A355 - 47.59 A325 + 5.10 A275).

    Args:
        a275: absorbance at 275 nm. [-] 0..4
        a325: absorbance at 325 nm. [-] 0..4
        a355: absorbance at 355 nm. [-] 0..4
        dilution_factor: as `dilution_factor` gives it. [-] 0.001..100

    Returns:
        Beta acids by mass, as is. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the three together give under 0 or over
            100 %.

    Source: ASBC Methods of Analysis, 8th ed. 1992, Hops-6 (quoted).

    >>> beta_percent_from_absorbance(a275=0.132, a325=0.596, a355=0.615, dilution_factor=0.66667)
    4.3

    """
    return _acids_percent("beta_percent", BETA_WEIGHTS, (a275, a325, a355), dilution_factor)


def hop_storage_index_from_absorbance(*, a275: float, a325: float) -> float:
    """Give the hop storage index from two absorbances of the same dilution B.

    HSI = A275/A325.

    Args:
        a275: absorbance at 275 nm. [-] 0..4
        a325: absorbance at 325 nm. [-] 0.001..4

    Returns:
        The index. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or the ratio cannot be an index
            (0.01..2.03).

    Source: ASBC Hops-12; EBC 7.13.

    >>> hop_storage_index_from_absorbance(a275=0.132, a325=0.596)
    0.2215

    """
    between("a275", a275, 0, HIGHEST_ABSORBANCE, "")
    between("a325", a325, LOWEST_READ_ABSORBANCE, HIGHEST_ABSORBANCE, "")
    index = a275 / a325
    check_hop_storage_index(hop_storage_index=index)
    return index


def lead_value_excess_fraction(*, hop_storage_index: float) -> Estimate:
    """Give how far the lead conductance value of EBC 7.5 reads above HPLC.

    r = 0.125 exp(2.94 (HSI - 0.30)), through the middles of two published ranges; the interval runs through
    their ends: 10 to 15 % in fresh hops (taken at 0.30), 25 to 45 % at 0.6 to 0.7 (taken at 0.65).

    Args:
        hop_storage_index: index of the hops when analysed. [-] 0.2..0.7

    Returns:
        The excess as a fraction of the HPLC value, with its interval. [-]

    Raises:
        OutOfRange: the index lies outside the range beside it, where nothing was published.

    Source: derived from the ranges in Kvasny Prumysl 63 (2017) 241-247, doi 10.18832/kp201725; the base of
    its percentage is taken to be the HPLC value.

    >>> lead_value_excess_fraction(hop_storage_index=0.65)
    Estimate(estimate=0.350, low=0.25, high=0.45, confidence=0.9)

    """
    check_hop_storage_index(hop_storage_index=hop_storage_index)
    between("hop_storage_index", hop_storage_index, LOWEST_LEAD_INDEX, HIGHEST_LEAD_INDEX, "")
    low, high = (
        fresh * math.pow(aged / fresh, (hop_storage_index - FRESH_INDEX) / (AGED_INDEX - FRESH_INDEX))
        for fresh, aged in (
            (FRESH_EXCESS[0], AGED_EXCESS[0]),
            (FRESH_EXCESS[2], AGED_EXCESS[2]),
        )
    )
    middle = FRESH_EXCESS[1] * math.exp(MID_GROWTH * (hop_storage_index - FRESH_INDEX))
    return Estimate(middle, low, high)


def alpha_percent_from_lead_conductance(
    *, method: str, lead_alpha_percent: float, hop_storage_index: float | None, lab_sd_log: float = 0.0
) -> Estimate:
    """Estimate the HPLC alpha behind a lead conductance value, to be offered and never applied silently.

    alpha = lead value/(1 + r), r as `lead_value_excess_fraction`; the spread of r and the laboratory's
    scatter add in quadrature.

    Args:
        method: the method's code; only `ebc_7_5` has a published comparison. [-] ebc_7_5
        lead_alpha_percent: the lead value as reported. [%] 0..60
        hop_storage_index: index of the same sample; None where it was not measured. [-] 0.2..0.7
        lab_sd_log: scatter of the lead value itself, in natural logarithms. [-] 0..3

    Returns:
        The estimated alpha by HPLC with its interval. [%]

    Raises:
        NoCorrection: the method is another one; for EBC 7.4 nothing was published.
        FigureMissing: the index was not measured.
        OutOfRange: an argument lies outside the range beside it.

    Source: derived from the ranges in Kvasny Prumysl 63 (2017) 241-247, doi 10.18832/kp201725.

    >>> alpha_percent_from_lead_conductance(method="ebc_7_5", lead_alpha_percent=9.0, hop_storage_index=0.30)
    Estimate(estimate=8.0, low=7.826, high=8.182, confidence=0.9)

    """
    if method != "ebc_7_5":
        raise NoCorrection(
            "only the lead conductance value of EBC 7.5 has a published comparison with HPLC,"
            f" and the method is {method}",
            method=method,
        )
    if hop_storage_index is None:
        raise FigureMissing(
            "the excess of a lead conductance value depends on the hop storage index, which was not measured",
            name="hop_storage_index",
        )
    between("lead_alpha_percent", lead_alpha_percent, 0, 60, "%")
    excess = lead_value_excess_fraction(hop_storage_index=hop_storage_index)
    method_spread = HalfWidths(
        below_log=math.log1p(excess.high) - math.log1p(excess.estimate),
        above_log=math.log1p(excess.estimate) - math.log1p(excess.low),
    )
    parts = [method_spread, half_widths_from_sd(sd_log=lab_sd_log)]
    return estimate_from_half_widths(
        estimate=lead_alpha_percent / (1 + excess.estimate), half_widths=combine_half_widths(parts=parts)
    )


def _acids_percent(
    name: str, weights: tuple[float, float, float], absorbances: tuple[float, float, float], factor: float
) -> float:
    for argument, absorbance in zip(("a275", "a325", "a355"), absorbances, strict=True):
        between(argument, absorbance, 0, HIGHEST_ABSORBANCE, "")
    between("dilution_factor", factor, SMALLEST_DILUTION_FACTOR, LARGEST_DILUTION_FACTOR, "")
    acids_percent = factor * sum(w * a for w, a in zip(weights, absorbances, strict=True))
    if not 0 <= acids_percent <= 100:
        raise OutOfRange(
            f"these absorbances give {name} {acids_percent:.3g} %, which cannot be:"
            " check that none is exchanged with another and that the blank was subtracted",
            name=name,
            value=acids_percent,
            low=0,
            high=100,
            unit="%",
        )
    return acids_percent


def _refuse_small_extract(extract_ml: float, sample_g: float) -> None:
    least_ml = LEAST_EXTRACT_ML_PER_G * sample_g
    if extract_ml < least_ml:
        raise OutOfRange(
            f"extract_ml {extract_ml:g} mL is too little for {sample_g:g} g of hops, under {least_ml:g} mL:"
            " the method extracts 5 g with 100 mL; a copy of its example prints 10 mL, which gives a tenth"
            " of the alpha",
            name="extract_ml",
            value=extract_ml,
            low=least_ml,
            high=10_000,
            unit="mL",
        )
