"""Doses of hops in customary units beside the metric ones: a mass per US beer barrel, and per hectolitre."""

from service.science.checks import between
from service.science.customary import G_PER_OZ, KG_PER_LB, L_PER_US_BARREL

LARGEST_DOSE = 1e6


def g_per_hl_from_oz_per_us_barrel(*, dose_oz_per_us_barrel: float) -> float:
    """Give a dose per US barrel in grams per hectolitre.

    g/hL = 28.349523125 * 100/117.347765304 oz/bbl.

    Args:
        dose_oz_per_us_barrel: the dose. [oz/bbl] 0..1000000

    Returns:
        The dose. [g/hL]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: derived from the definitions in NIST Handbook 44, Appendix C.

    >>> g_per_hl_from_oz_per_us_barrel(dose_oz_per_us_barrel=1)
    24.159

    """
    between("dose_oz_per_us_barrel", dose_oz_per_us_barrel, 0, LARGEST_DOSE, "oz/bbl")
    return dose_oz_per_us_barrel * G_PER_OZ * 100 / L_PER_US_BARREL


def oz_per_us_barrel_from_g_per_hl(*, dose_g_per_hl: float) -> float:
    """Give a dose per hectolitre in ounces per US barrel.

    oz/bbl = 117.347765304/(28.349523125 * 100) g/hL.

    Args:
        dose_g_per_hl: the dose. [g/hL] 0..1000000

    Returns:
        The dose. [oz/bbl]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: derived from the definitions in NIST Handbook 44, Appendix C.

    >>> oz_per_us_barrel_from_g_per_hl(dose_g_per_hl=100)
    4.1393

    """
    between("dose_g_per_hl", dose_g_per_hl, 0, LARGEST_DOSE, "g/hL")
    return dose_g_per_hl * L_PER_US_BARREL / (G_PER_OZ * 100)


def g_per_hl_from_lb_per_us_barrel(*, dose_lb_per_us_barrel: float) -> float:
    """Give a dose in pounds per US barrel in grams per hectolitre.

    g/hL = 453.59237 * 100/117.347765304 lb/bbl, that is 386.5.

    Args:
        dose_lb_per_us_barrel: the dose. [lb/bbl] 0..1000000

    Returns:
        The dose. [g/hL]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: derived from the definitions in NIST Handbook 44, Appendix C.

    >>> g_per_hl_from_lb_per_us_barrel(dose_lb_per_us_barrel=1)
    386.54

    """
    between("dose_lb_per_us_barrel", dose_lb_per_us_barrel, 0, LARGEST_DOSE, "lb/bbl")
    return dose_lb_per_us_barrel * KG_PER_LB * 100_000 / L_PER_US_BARREL


def lb_per_us_barrel_from_g_per_hl(*, dose_g_per_hl: float) -> float:
    """Give a dose per hectolitre in pounds per US barrel.

    lb/bbl = 117.347765304/(453.59237 * 100) g/hL.

    Args:
        dose_g_per_hl: the dose. [g/hL] 0..1000000

    Returns:
        The dose. [lb/bbl]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: derived from the definitions in NIST Handbook 44, Appendix C.

    >>> lb_per_us_barrel_from_g_per_hl(dose_g_per_hl=100)
    0.25871

    """
    between("dose_g_per_hl", dose_g_per_hl, 0, LARGEST_DOSE, "g/hL")
    return dose_g_per_hl * L_PER_US_BARREL / (KG_PER_LB * 100_000)
