"""Hop oil by volume: what a dose carries, what left the hops, and the ratio of two of its parts."""

from service.science.checks import between

# Spent dry hops still hold this share: Hauser et al. 2019, J. ASBC 77:188, 386 g/hL, 24 h, 13 °C (quoted).
OIL_KEPT_PILOT_PERCENT = 51.0
OIL_KEPT_BREWERY_PERCENT = 33.0
ALPHA_KEPT_PILOT_PERCENT = 77.0
ALPHA_KEPT_BREWERY_PERCENT = 52.0

# Doses of 200 to 1600 g/hL were tasted, 400 to 800 found best: Lafontaine & Shellhammer 2018, J. Inst. Brew.
# 124:434, doi 10.1002/jib.517.
TASTED_G_PER_HL_MIN = 200.0
TASTED_G_PER_HL_MAX = 1600.0
BEST_G_PER_HL_MIN = 400.0
BEST_G_PER_HL_MAX = 800.0

LARGEST_DOSE_G_PER_HL = 10_000.0
MOST_OIL_ML_PER_100G = 10.0


def oil_dosed_ml_per_hl(*, dose_g_per_hl: float, oil_ml_per_100g: float) -> float:
    """Give the oil that a dose of hops carries.

    mL/hL = g/hL * oil/100.

    Args:
        dose_g_per_hl: hops dosed. [g/hL] 0..10000
        oil_ml_per_100g: total oil of the hops. [mL/100 g] 0..10

    Returns:
        The oil in the hops, not the oil in the beer. [mL/hL]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: arithmetic; no empirical constant.

    >>> oil_dosed_ml_per_hl(dose_g_per_hl=400, oil_ml_per_100g=1.24)
    4.96

    """
    between("dose_g_per_hl", dose_g_per_hl, 0, LARGEST_DOSE_G_PER_HL, "g/hL")
    between("oil_ml_per_100g", oil_ml_per_100g, 0, MOST_OIL_ML_PER_100G, "mL/100 g")
    return dose_g_per_hl * oil_ml_per_100g / 100


def oil_left_hops_ml_per_hl(*, dose_g_per_hl: float, oil_ml_per_100g: float, kept_percent: float) -> float:
    """Give the oil that left the hops of a dry hopping: the most that can be in the beer.

    dosed (1 - kept/100); hydrocarbons also go with the gas and into the yeast.

    Args:
        dose_g_per_hl: hops dosed. [g/hL] 0..10000
        oil_ml_per_100g: total oil of the hops. [mL/100 g] 0..10
        kept_percent: share of the oil that the spent hops still hold; published 33 and 51. [%] 0..100

    Returns:
        The oil that left the hops. [mL/hL]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: balance; shares of Hauser et al. 2019, J. ASBC 77:188, doi 10.1080/03610470.2019.1617622.

    >>> oil_left_hops_ml_per_hl(dose_g_per_hl=386, oil_ml_per_100g=1.24, kept_percent=51)
    2.345

    """
    between("kept_percent", kept_percent, 0, 100, "%")
    dosed = oil_dosed_ml_per_hl(dose_g_per_hl=dose_g_per_hl, oil_ml_per_100g=oil_ml_per_100g)
    return dosed * (1 - kept_percent / 100)


def component_ml_per_100g(*, oil_ml_per_100g: float, share_percent: float) -> float:
    """Give the content of one part of the oil.

    total oil * share/100.

    Args:
        oil_ml_per_100g: total oil of the hops. [mL/100 g] 0..10
        share_percent: share of the part in the oil. [%] 0..100

    Returns:
        The part, by volume of oil. [mL/100 g]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: arithmetic; a share of peak area is taken as a share of volume.

    >>> component_ml_per_100g(oil_ml_per_100g=1.24, share_percent=10)
    0.124

    """
    between("oil_ml_per_100g", oil_ml_per_100g, 0, MOST_OIL_ML_PER_100G, "mL/100 g")
    between("share_percent", share_percent, 0, 100, "%")
    return oil_ml_per_100g * share_percent / 100


def humulene_caryophyllene_ratio(*, humulene_percent: float, caryophyllene_percent: float) -> float:
    """Give the ratio of humulene to caryophyllene.

    H/C, a ratio that cultivar descriptions state beside the shares.

    Args:
        humulene_percent: share of humulene in the oil. [%] 0..100
        caryophyllene_percent: share of caryophyllene in the oil. [%] 0.1..100

    Returns:
        The ratio. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it; without caryophyllene there is no ratio.

    Source: USDA-ARS cultivar descriptions give the ratio; arithmetic.

    >>> humulene_caryophyllene_ratio(humulene_percent=10, caryophyllene_percent=3.745)
    2.67

    """
    between("humulene_percent", humulene_percent, 0, 100, "%")
    between("caryophyllene_percent", caryophyllene_percent, 0.1, 100, "%")
    return humulene_percent / caryophyllene_percent


def caryophyllene_percent_from_ratio(*, humulene_percent: float, ratio: float) -> float:
    """Give the share of caryophyllene from that of humulene and their ratio.

    C = H/(H/C).

    Args:
        humulene_percent: share of humulene in the oil. [%] 0..100
        ratio: humulene over caryophyllene. [-] 0.01..100

    Returns:
        The share of caryophyllene. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: arithmetic; no empirical constant.

    >>> caryophyllene_percent_from_ratio(humulene_percent=10, ratio=2.67)
    3.745

    """
    between("humulene_percent", humulene_percent, 0, 100, "%")
    between("ratio", ratio, 0.01, 100, "")
    return humulene_percent / ratio
