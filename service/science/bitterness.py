"""Estimated bitterness of beer from hop additions: utilization, IBU, and wort gravity in its two scales."""

import math

import numpy as np

from service.science.arrays import Numbers
from service.science.boiling import boiling_point_c
from service.science.checks import between
from service.science.isomerization import relative_isomerization_rate
from service.science.series import between_all

# G. Tinseth, hop utilisation article; the two factors are quoted from reprints of it.
BIGNESS_FACTOR = 1.65
BIGNESS_BASE = 0.000125
BOIL_RATE_PER_MINUTE = 0.04
BOIL_DIVISOR = 4.15

HIGHEST_SG = 1.150
LONGEST_MINUTES = 240.0
LARGEST_G = 10_000_000.0
SMALLEST_L = 0.1
LARGEST_L = 10_000_000.0
HIGHEST_IBU = 1000.0
LEAST_PERCENT = 0.01

# Fit to the sucrose table of Bates et al. 1942, NBS Circular C440 (0 to 40 % by mass, 20/20 °C);
# the third constant is moved by 1e-5 of itself so that water is exactly 0 °P.
SUGAR_SLOPE_PLATO = 28.14203
SUGAR_OFFSET_PLATO = 202.4427
HIGHEST_TABLE_SG = 1.170
HIGHEST_TABLE_PLATO = 38.3


def tinseth_utilization_percent(*, gravity_sg: float, minutes: float) -> float:
    """Estimate how much of the alpha acids of a boil addition becomes bitterness in the beer.

    U = 100 * 1.65 * 0.000125^(G - 1) * (1 - exp(-0.04 t))/4.15; one small brewery's measurements, fitted.

    Args:
        gravity_sg: gravity of the wort, the mean over the boil where it is known. [20/20 °C] 1..1.15
        minutes: time the hops boil. [min] 0..240

    Returns:
        The utilization, losses up to the finished beer included. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: G. Tinseth, hop utilisation article; table reprinted in J. Palmer, How to Brew.

    >>> tinseth_utilization_percent(gravity_sg=1.050, minutes=60)
    23.1

    """
    between("gravity_sg", gravity_sg, 1.0, HIGHEST_SG, "")
    between("minutes", minutes, 0, LONGEST_MINUTES, "min")
    bigness = BIGNESS_FACTOR * math.pow(BIGNESS_BASE, gravity_sg - 1)
    return -100 * bigness * math.expm1(-BOIL_RATE_PER_MINUTE * minutes) / BOIL_DIVISOR


def tinseth_utilization_percent_curve(*, gravity_sg: Numbers, minutes: Numbers) -> Numbers:
    """Estimate the utilization of many boil additions at once.

    U as in `tinseth_utilization_percent`, element by element.

    Args:
        gravity_sg: gravity of each wort; shape (n,). [20/20 °C] 1..1.15
        minutes: time each addition boils; shape (n,). [min] 0..240

    Returns:
        The utilizations; shape (n,); the same numbers as the scalar function gives to 1e-12. [%]

    Raises:
        OutOfRange: an element lies outside the range beside it.

    Source: G. Tinseth, hop utilisation article; table reprinted in J. Palmer, How to Brew.

    >>> tinseth_utilization_percent_curve(gravity_sg=np.array([1.050]), minutes=np.array([60.0]))
    array([23.1])

    """
    between_all("gravity_sg", gravity_sg, 1.0, HIGHEST_SG, "")
    between_all("minutes", minutes, 0, LONGEST_MINUTES, "min")
    scale = -100 * BIGNESS_FACTOR / BOIL_DIVISOR
    utilization: Numbers = np.exp(math.log(BIGNESS_BASE) * (gravity_sg - 1))
    utilization *= np.expm1(-BOIL_RATE_PER_MINUTE * minutes)
    utilization *= scale
    return utilization


def tinseth_whirlpool_utilization_percent(
    *, gravity_sg: float, minutes: float, temperature_c: float
) -> float:
    """Estimate the utilization of hops in wort of one temperature: a whirlpool, a hop stand, a high kettle.

    U(boil) * k1(T)/k1(T0): the boil's value slowed like the isomerisation, where T0 is the temperature at which
    this wort boils at sea level. So a kettle in the mountains and a whirlpool of the same temperature use the
    same share, and a boil at sea level is the published one. A derived convention, not a published one; below
    90 °C the rate itself is extrapolated.

    Args:
        gravity_sg: gravity of the wort. [20/20 °C] 1..1.15
        minutes: time from the addition to the cooling. [min] 0..240
        temperature_c: mean temperature over that time. [°C] 60..130

    Returns:
        The utilization, losses up to the finished beer included. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: derived from G. Tinseth and from Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439.

    >>> tinseth_whirlpool_utilization_percent(gravity_sg=1.050, minutes=20, temperature_c=85)
    3.633

    """
    boil_percent = tinseth_utilization_percent(gravity_sg=gravity_sg, minutes=minutes)
    boiling_c = boiling_point_c(elevation_m=0, gravity_plato=plato_from_sg(gravity_sg=gravity_sg))
    slowed = relative_isomerization_rate(temperature_c=temperature_c)
    return boil_percent * slowed / relative_isomerization_rate(temperature_c=boiling_c)


def ibu(*, utilization_percent: float, alpha_percent: float, mass_g: float, volume_l: float) -> float:
    """Estimate the bitterness that one addition gives.

    IBU = U * alpha * 1000 m / V, with U and alpha as decimals: milligrams of used alpha acid per litre.

    Args:
        utilization_percent: share of the alpha acids that becomes bitterness. [%] 0..100
        alpha_percent: alpha acids in the hops as they are dosed. [%] 0..100
        mass_g: mass of hops. [g] 0..10000000
        volume_l: volume of beer. [L] 0.1..10000000

    Returns:
        The estimated bitterness; an estimate, not mg/L of iso-alpha acids. [IBU]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: G. Tinseth, hop utilisation article (mg/L formula).

    >>> ibu(utilization_percent=23.06, alpha_percent=10, mass_g=30, volume_l=20)
    34.6

    """
    between("utilization_percent", utilization_percent, 0, 100, "%")
    between("alpha_percent", alpha_percent, 0, 100, "%")
    between("mass_g", mass_g, 0, LARGEST_G, "g")
    between("volume_l", volume_l, SMALLEST_L, LARGEST_L, "L")
    return utilization_percent * alpha_percent * mass_g / (10 * volume_l)


def ibu_curve(
    *, utilization_percent: Numbers, alpha_percent: Numbers, mass_g: Numbers, volume_l: Numbers
) -> Numbers:
    """Estimate the bitterness that many additions give, each.

    IBU as in `ibu`, element by element.

    Args:
        utilization_percent: share of the alpha acids used; shape (n,). [%] 0..100
        alpha_percent: alpha acids in the hops; shape (n,). [%] 0..100
        mass_g: mass of hops; shape (n,). [g] 0..10000000
        volume_l: volume of beer; shape (n,). [L] 0.1..10000000

    Returns:
        The estimated bitterness of each; shape (n,); the scalar function's numbers to 1e-12. [IBU]

    Raises:
        OutOfRange: an element lies outside the range beside it.

    Source: G. Tinseth, hop utilisation article (mg/L formula).

    >>> ibu_curve(utilization_percent=np.array([23.06]), alpha_percent=np.array([10.0]),
    ...           mass_g=np.array([30.0]), volume_l=np.array([20.0]))
    array([34.6])

    """
    between_all("utilization_percent", utilization_percent, 0, 100, "%")
    between_all("alpha_percent", alpha_percent, 0, 100, "%")
    between_all("mass_g", mass_g, 0, LARGEST_G, "g")
    between_all("volume_l", volume_l, SMALLEST_L, LARGEST_L, "L")
    bitterness: Numbers = utilization_percent * alpha_percent
    bitterness *= mass_g
    bitterness /= volume_l
    bitterness /= 10
    return bitterness


def mass_g_for_ibu(
    *, wanted_ibu: float, utilization_percent: float, alpha_percent: float, volume_l: float
) -> float:
    """Give the mass of hops that a wanted bitterness takes.

    m = IBU * V/(1000 U alpha), the inverse of `ibu`.

    Args:
        wanted_ibu: bitterness wanted from this addition. [IBU] 0..1000
        utilization_percent: share of the alpha acids that becomes bitterness. [%] 0.01..100
        alpha_percent: alpha acids in the hops as they are dosed. [%] 0.01..100
        volume_l: volume of beer. [L] 0.1..10000000

    Returns:
        The mass of hops. [g]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: G. Tinseth, hop utilisation article (mg/L formula), solved for the mass.

    >>> mass_g_for_ibu(wanted_ibu=34.6, utilization_percent=23.06, alpha_percent=10, volume_l=20)
    30.0

    """
    between("wanted_ibu", wanted_ibu, 0, HIGHEST_IBU, "IBU")
    between("utilization_percent", utilization_percent, LEAST_PERCENT, 100, "%")
    between("alpha_percent", alpha_percent, LEAST_PERCENT, 100, "%")
    between("volume_l", volume_l, SMALLEST_L, LARGEST_L, "L")
    return 10 * wanted_ibu * volume_l / (utilization_percent * alpha_percent)


def plato_from_sg(*, gravity_sg: float) -> float:
    """Give the extract of an unfermented wort from its gravity.

    P = (G - 1)(28.14203 G + 230.58473)/G: a closed fit to the sugar table, exactly 0 for water.

    Args:
        gravity_sg: gravity of the wort. [20/20 °C] 1..1.17

    Returns:
        The extract, within 0.03 of the brewing chemists' tables. [°P]

    Raises:
        OutOfRange: the gravity lies outside the range beside it.

    Source: fit to Bates et al. 1942, NBS Circular C440; °P and % sucrose by mass are one scale here.

    >>> plato_from_sg(gravity_sg=1.050)
    12.38

    """
    between("gravity_sg", gravity_sg, 1.0, HIGHEST_TABLE_SG, "")
    fall = SUGAR_SLOPE_PLATO * (gravity_sg + 1) + SUGAR_OFFSET_PLATO
    return (gravity_sg - 1) * fall / gravity_sg


def sg_from_plato(*, gravity_plato: float) -> float:
    """Give the gravity of an unfermented wort from its extract.

    The inverse of `plato_from_sg`: the positive root of a quadratic equation.

    Args:
        gravity_plato: extract of the wort. [°P] 0..38.3

    Returns:
        The gravity. [20/20 °C]

    Raises:
        OutOfRange: the extract lies outside the range beside it.

    Source: fit to Bates et al. 1942, NBS Circular C440, inverted exactly.

    >>> sg_from_plato(gravity_plato=12.0)
    1.0484

    """
    between("gravity_plato", gravity_plato, 0, HIGHEST_TABLE_PLATO, "°P")
    water = SUGAR_SLOPE_PLATO + SUGAR_OFFSET_PLATO
    linear = SUGAR_OFFSET_PLATO - gravity_plato
    return 2 * water / (linear + math.sqrt(linear**2 + 4 * SUGAR_SLOPE_PLATO * water))
