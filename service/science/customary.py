"""Customary units of the trade beside the metric ones: the one place of conversions.

The factors of avoirdupois pound, ounce and US gallon are exact by definition (NIST Handbook 44, Appendix C).
"""

from service.science.checks import between

KG_PER_LB = 0.45359237
G_PER_OZ = 28.349523125
L_PER_US_GALLON = 3.785411784
# 31 US gallons, the barrel of beer.
L_PER_US_BARREL = 31 * L_PER_US_GALLON

LARGEST_MASS = 1e9
LARGEST_VOLUME = 1e9


def lb_from_kg(*, mass_kg: float) -> float:
    """Give a mass in pounds.

    lb = kg/0.45359237.

    Args:
        mass_kg: the mass. [kg] 0..1000000000

    Returns:
        The mass. [lb]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: NIST Handbook 44, Appendix C; exact by definition.

    >>> lb_from_kg(mass_kg=1)
    2.2046

    """
    between("mass_kg", mass_kg, 0, LARGEST_MASS, "kg")
    return mass_kg / KG_PER_LB


def kg_from_lb(*, mass_lb: float) -> float:
    """Give a mass in kilograms.

    kg = 0.45359237 lb.

    Args:
        mass_lb: the mass. [lb] 0..1000000000

    Returns:
        The mass. [kg]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: NIST Handbook 44, Appendix C; exact by definition.

    >>> kg_from_lb(mass_lb=1)
    0.45359

    """
    between("mass_lb", mass_lb, 0, LARGEST_MASS, "lb")
    return mass_lb * KG_PER_LB


def oz_from_g(*, mass_g: float) -> float:
    """Give a mass in ounces.

    oz = g/28.349523125.

    Args:
        mass_g: the mass. [g] 0..1000000000

    Returns:
        The mass. [oz]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: NIST Handbook 44, Appendix C; exact by definition.

    >>> oz_from_g(mass_g=1)
    0.035274

    """
    between("mass_g", mass_g, 0, LARGEST_MASS, "g")
    return mass_g / G_PER_OZ


def g_from_oz(*, mass_oz: float) -> float:
    """Give a mass in grams.

    g = 28.349523125 oz.

    Args:
        mass_oz: the mass. [oz] 0..1000000000

    Returns:
        The mass. [g]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: NIST Handbook 44, Appendix C; exact by definition.

    >>> g_from_oz(mass_oz=1)
    28.35

    """
    between("mass_oz", mass_oz, 0, LARGEST_MASS, "oz")
    return mass_oz * G_PER_OZ


def us_gallon_from_l(*, volume_l: float) -> float:
    """Give a volume in US gallons.

    gal = L/3.785411784.

    Args:
        volume_l: the volume. [L] 0..1000000000

    Returns:
        The volume. [US gal]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: NIST Handbook 44, Appendix C; exact by definition.

    >>> us_gallon_from_l(volume_l=1)
    0.26417

    """
    between("volume_l", volume_l, 0, LARGEST_VOLUME, "L")
    return volume_l / L_PER_US_GALLON


def l_from_us_gallon(*, volume_us_gallon: float) -> float:
    """Give a volume in litres.

    L = 3.785411784 gal.

    Args:
        volume_us_gallon: the volume. [US gal] 0..1000000000

    Returns:
        The volume. [L]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: NIST Handbook 44, Appendix C; exact by definition.

    >>> l_from_us_gallon(volume_us_gallon=1)
    3.7854

    """
    between("volume_us_gallon", volume_us_gallon, 0, LARGEST_VOLUME, "US gal")
    return volume_us_gallon * L_PER_US_GALLON


def us_barrel_from_l(*, volume_l: float) -> float:
    """Give a volume in US beer barrels.

    bbl = L/117.347765304.

    Args:
        volume_l: the volume. [L] 0..1000000000

    Returns:
        The volume. [US bbl]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: NIST Handbook 44, Appendix C; exact by definition.

    >>> us_barrel_from_l(volume_l=1)
    0.0085217

    """
    between("volume_l", volume_l, 0, LARGEST_VOLUME, "L")
    return volume_l / L_PER_US_BARREL


def l_from_us_barrel(*, volume_us_barrel: float) -> float:
    """Give a volume of US beer barrels in litres.

    L = 117.347765304 bbl.

    Args:
        volume_us_barrel: the volume. [US bbl] 0..1000000000

    Returns:
        The volume. [L]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: NIST Handbook 44, Appendix C; exact by definition.

    >>> l_from_us_barrel(volume_us_barrel=1)
    117.35

    """
    between("volume_us_barrel", volume_us_barrel, 0, LARGEST_VOLUME, "US bbl")
    return volume_us_barrel * L_PER_US_BARREL


def fahrenheit_from_celsius(*, temperature_c: float) -> float:
    """Give a temperature in degrees Fahrenheit.

    F = 1.8 C + 32.

    Args:
        temperature_c: the temperature. [°C] -273.15..2000

    Returns:
        The temperature. [°F]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: definition of the Fahrenheit scale, NIST Handbook 44, Appendix C.

    >>> fahrenheit_from_celsius(temperature_c=100)
    212.0

    """
    between("temperature_c", temperature_c, -273.15, 2000, "°C")
    return temperature_c * 1.8 + 32


def celsius_from_fahrenheit(*, temperature_f: float) -> float:
    """Give a temperature in degrees Celsius.

    C = (F - 32)/1.8.

    Args:
        temperature_f: the temperature. [°F] -459.67..3632

    Returns:
        The temperature. [°C]

    Raises:
        OutOfRange: the argument lies outside the range beside it.

    Source: definition of the Fahrenheit scale, NIST Handbook 44, Appendix C.

    >>> celsius_from_fahrenheit(temperature_f=212)
    100.0

    """
    between("temperature_f", temperature_f, -459.67, 3632, "°F")
    return (temperature_f - 32) / 1.8
