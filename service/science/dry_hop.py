"""What dry hops bring: humulinones instead of iso-alpha acids. Gas and alcohol: `hop_creep`.

Dry hops give no classic IBU, for nothing isomerises in cold beer; `classic_ibu` says so.
"""

from service.facts import Fact
from service.science.checks import between

# Hops hold 0.2 to 0.5 % humulinones: Hahn et al. 2018, J. Agric. Food Chem. 66:3505; Maye, MBAA 2015.
HUMULINONE_PERCENT_MIN = 0.2
HUMULINONE_PERCENT_MAX = 0.5
# 48 of 53.3 mg/L were found in beer, and 35 of 1323 mg/L alpha: Brauwelt International 2017, derived.
HUMULINONE_DISSOLVED_FRACTION = 0.90
ALPHA_DISSOLVED_FRACTION = 0.026

# Bitterness by taste, iso-alpha acids = 1: Hahn et al. 2018, doi 10.1021/acs.jafc.7b05784.
HUMULINONE_WEIGHT = 0.66
HULUPONE_WEIGHT = 0.84
ALPHA_WEIGHT = 0.1


class DryHopBitterness(Fact, frozen=True):
    """Bitterness by taste that humulinones of dry hops may bring, as a range; not IBU."""

    low_iso_mg_per_l: float
    high_iso_mg_per_l: float


def classic_ibu() -> None:
    """Give the classic IBU of dry hops: there is none, and None says so.

    Returns:
        None, which is not zero: the question does not apply. [-]

    Source: isomerisation starts between 60 and 70 °C, Kishimoto 2021, doi 10.1080/03610470.2021.1878684.

    >>> classic_ibu() is None
    True

    """


def ceiling_mg_per_l(*, dose_g_per_l: float, content_percent: float) -> float:
    """Give the concentration that a substance would reach if all of it left the hops.

    mg/L = 10 dose content.

    Args:
        dose_g_per_l: hops dosed. [g/L] 0..100
        content_percent: content of the substance in the hops. [%] 0..100

    Returns:
        The ceiling. [mg/L]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: arithmetic; no empirical constant.

    >>> ceiling_mg_per_l(dose_g_per_l=23.19, content_percent=0.23)
    53.3

    """
    between("dose_g_per_l", dose_g_per_l, 0, 100, "g/L")
    between("content_percent", content_percent, 0, 100, "%")
    return 10 * dose_g_per_l * content_percent


def dissolved_fraction(*, measured_mg_per_l: float, dose_g_per_l: float, content_percent: float) -> float:
    """Give the share of a substance of dry hops that was found in the beer.

    measured/ceiling.

    Args:
        measured_mg_per_l: what the dry hops added to the beer. [mg/L] 0..10000
        dose_g_per_l: hops dosed. [g/L] 0.01..100
        content_percent: content of the substance in the hops. [%] 0.001..100

    Returns:
        The share; over 1 means that content or dose was higher than stated. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: arithmetic; no empirical constant.

    >>> dissolved_fraction(measured_mg_per_l=48, dose_g_per_l=23.19, content_percent=0.23)
    0.90

    """
    between("measured_mg_per_l", measured_mg_per_l, 0, 10_000, "mg/L")
    between("dose_g_per_l", dose_g_per_l, 0.01, 100, "g/L")
    between("content_percent", content_percent, 0.001, 100, "%")
    return measured_mg_per_l / ceiling_mg_per_l(dose_g_per_l=dose_g_per_l, content_percent=content_percent)


def sensory_bitterness_iso_mg_per_l(
    *, iso_mg_per_l: float, humulinones_mg_per_l: float, hulupones_mg_per_l: float, alpha_mg_per_l: float
) -> float:
    """Weigh the bitter acids of a beer by taste.

    iso + 0.66 humulinones + 0.84 hulupones + 0.1 alpha; taste is not quite linear.

    Args:
        iso_mg_per_l: iso-alpha acids in beer. [mg/L] 0..1000
        humulinones_mg_per_l: humulinones in beer. [mg/L] 0..1000
        hulupones_mg_per_l: hulupones in beer. [mg/L] 0..1000
        alpha_mg_per_l: alpha acids in beer. [mg/L] 0..1000

    Returns:
        The iso-alpha acids that would taste as bitter. [mg/L]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: weights of Hahn et al. 2018, J. Agric. Food Chem. 66:3505, doi 10.1021/acs.jafc.7b05784.

    >>> sensory_bitterness_iso_mg_per_l(
    ...     iso_mg_per_l=20, humulinones_mg_per_l=10, hulupones_mg_per_l=1, alpha_mg_per_l=15)
    28.94

    """
    between("iso_mg_per_l", iso_mg_per_l, 0, 1000, "mg/L")
    between("humulinones_mg_per_l", humulinones_mg_per_l, 0, 1000, "mg/L")
    between("hulupones_mg_per_l", hulupones_mg_per_l, 0, 1000, "mg/L")
    between("alpha_mg_per_l", alpha_mg_per_l, 0, 1000, "mg/L")
    humulinones = HUMULINONE_WEIGHT * humulinones_mg_per_l
    return iso_mg_per_l + humulinones + HULUPONE_WEIGHT * hulupones_mg_per_l + ALPHA_WEIGHT * alpha_mg_per_l


def dry_hop_bitterness(*, dose_g_per_l: float) -> DryHopBitterness:
    """Give the range of bitterness by taste that the humulinones of dry hops may bring.

    0.66 * 0.90 * ceiling, at 0.2 and at 0.5 % humulinones; beer poor in iso-alpha acids gains, beer rich in
    them may lose some to the hops, which is not in it.

    Args:
        dose_g_per_l: hops dosed. [g/L] 0..22

    Returns:
        The range, as iso-alpha acids that would taste as bitter. [mg/L]

    Raises:
        OutOfRange: the dose lies outside the range beside it; 22 g/L is the most that practice knows.

    Source: contents and weight of Hahn et al. 2018; share dissolved derived from Brauwelt International 2017.

    >>> dry_hop_bitterness(dose_g_per_l=4)
    DryHopBitterness(low_iso_mg_per_l=4.752, high_iso_mg_per_l=11.88)

    """
    between("dose_g_per_l", dose_g_per_l, 0, 22, "g/L")
    per_percent = HUMULINONE_WEIGHT * HUMULINONE_DISSOLVED_FRACTION * 10 * dose_g_per_l
    return DryHopBitterness(per_percent * HUMULINONE_PERCENT_MIN, per_percent * HUMULINONE_PERCENT_MAX)
