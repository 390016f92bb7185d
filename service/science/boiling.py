"""At what temperature a kettle boils, from its elevation and its wort."""

import math

from service.science.checks import between

# Standard atmosphere (ISO 2533:1975), layer below 11 km.
SEA_LEVEL_PA = 101_325.0
LAPSE_PER_M = 2.25577e-5
PRESSURE_EXPONENT = 5.25588

# IAPWS-IF97, region 4 (saturation line), coefficients n1 to n10.
N1, N2, N3 = 1167.0521452767, -724213.16703206, -17.073846940092
N4, N5, N6 = 12020.824702470, -3232555.0322333, 14.915108613530
N7, N8 = -4823.2657361591, 405113.40542057
N9, N10 = -0.23855557567849, 650.17534844798

EBULLIOSCOPIC_K_KG_PER_MOL = 0.512
MALTOSE_G_PER_MOL = 342.3
LOWEST_M = -500.0
HIGHEST_M = 5000.0


def pressure_pa(*, elevation_m: float) -> float:
    """Give the mean air pressure at an elevation.

    p = 101325 (1 - 2.25577e-5 h)^5.25588, the standard atmosphere; weather moves it by about 3 %.

    Args:
        elevation_m: elevation above sea level. [m] -500..5000

    Returns:
        The pressure. [Pa]

    Raises:
        OutOfRange: the elevation lies outside the range beside it.

    Source: standard atmosphere, ISO 2533:1975; the tests compare it with the layer's defining equation.

    >>> pressure_pa(elevation_m=1524)
    84307.3

    """
    between("elevation_m", elevation_m, LOWEST_M, HIGHEST_M, "m")
    return SEA_LEVEL_PA * math.pow(1 - LAPSE_PER_M * elevation_m, PRESSURE_EXPONENT)


def water_boiling_point_c(*, pressure_pa: float) -> float:
    """Give the temperature at which water boils under a pressure.

    The saturation line of the industrial formulation, solved for the temperature.

    Args:
        pressure_pa: absolute pressure. [Pa] 1000..1000000

    Returns:
        The boiling point of water. [°C]

    Raises:
        OutOfRange: the pressure lies outside the range beside it.

    Source: IAPWS-IF97 region 4, backward equation; the tests compare it with an independent library.

    >>> water_boiling_point_c(pressure_pa=100_000)
    99.606

    """
    between("pressure_pa", pressure_pa, 1000, 1_000_000, "Pa")
    beta = math.pow(pressure_pa / 1e6, 0.25)
    e = beta**2 + N3 * beta + N6
    f = N1 * beta**2 + N4 * beta + N7
    g = N2 * beta**2 + N5 * beta + N8
    d = 2 * g / (-f - math.sqrt(f * f - 4 * e * g))
    return (N10 + d - math.sqrt((N10 + d) ** 2 - 4 * (N9 + N10 * d))) / 2 - 273.15


def wort_elevation_c(*, gravity_plato: float) -> float:
    """Give by how much wort boils hotter than water.

    dT = 0.512 m, where m is the molality of the extract taken as maltose (342.3 g/mol).

    Args:
        gravity_plato: extract of the wort. [°P] 0..40

    Returns:
        The rise of the boiling point; an upper bound, as dextrins weigh more than maltose. [°C]

    Raises:
        OutOfRange: the extract lies outside the range beside it.

    Source: Raoult's law with the ebullioscopic constant of water, 0.512 K kg/mol; derived.

    >>> wort_elevation_c(gravity_plato=12)
    0.204

    """
    between("gravity_plato", gravity_plato, 0, 40, "°P")
    molality = 10 * gravity_plato / MALTOSE_G_PER_MOL / (1 - gravity_plato / 100)
    return EBULLIOSCOPIC_K_KG_PER_MOL * molality


def boiling_point_c(*, elevation_m: float, gravity_plato: float = 0) -> float:
    """Give the temperature at which a kettle of wort boils at an elevation.

    The boiling point of water at the standard pressure of that elevation, plus the rise by the extract.

    Args:
        elevation_m: elevation of the kettle above sea level. [m] -500..5000
        gravity_plato: extract of the wort; 0 is water. [°P] 0..40

    Returns:
        The boiling point; within 0.25 of published tables up to 3700 m. [°C]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: ISO 2533:1975 and IAPWS-IF97 region 4; wort by Raoult's law.

    >>> boiling_point_c(elevation_m=1524)
    94.9

    """
    rise_c = wort_elevation_c(gravity_plato=gravity_plato)
    return water_boiling_point_c(pressure_pa=pressure_pa(elevation_m=elevation_m)) + rise_c
