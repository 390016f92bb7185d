"""Alpha acids turn into iso-alpha acids in hot wort, and those are lost in turn.

Two first-order steps in a row: alpha -> iso-alpha (k1), iso-alpha -> losses (k2). The rates were measured
from 90 to 130 °C in a buffer of pH 5.2; `is_extrapolated` says when a temperature lies outside.
"""

import math

from service.science.checks import between

# Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439, doi 10.1021/jf0481296.
ISOMERIZATION_PER_MINUTE = 7.9e11
ISOMERIZATION_COEFFICIENT_K = 11858.0
DEGRADATION_PER_MINUTE = 4.1e12
DEGRADATION_COEFFICIENT_K = 12994.0
MEASURED_FROM_C = 90.0
MEASURED_TO_C = 130.0

# Isomerisation begins between 60 and 70 °C: Kishimoto 2021, J. ASBC, doi 10.1080/03610470.2021.1878684.
LOWEST_C = 60.0
HIGHEST_C = 130.0

LONGEST_MINUTES = 1440.0
ZERO_CELSIUS_K = 273.15


def isomerization_rate_per_minute(*, temperature_c: float) -> float:
    """Give the rate k1 at which alpha acids become iso-alpha acids.

    k1 = 7.9e11 exp(-11858/T), T in kelvin.

    Args:
        temperature_c: temperature of the wort; measured from 90 to 130. [°C] 60..130

    Returns:
        The first-order rate k1. [1/min]

    Raises:
        OutOfRange: the temperature lies outside the range beside it.

    Source: Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439; range: Kishimoto 2021.

    >>> isomerization_rate_per_minute(temperature_c=100)
    0.01249

    """
    between("temperature_c", temperature_c, LOWEST_C, HIGHEST_C, "°C")
    return ISOMERIZATION_PER_MINUTE * math.exp(-ISOMERIZATION_COEFFICIENT_K / _kelvin(temperature_c))


def degradation_rate_per_minute(*, temperature_c: float) -> float:
    """Give the rate k2 at which iso-alpha acids are lost.

    k2 = 4.1e12 exp(-12994/T), T in kelvin.

    Args:
        temperature_c: temperature of the wort; measured from 90 to 130. [°C] 60..130

    Returns:
        The first-order rate k2. [1/min]

    Raises:
        OutOfRange: the temperature lies outside the range beside it.

    Source: Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439.

    >>> degradation_rate_per_minute(temperature_c=100)
    0.003087

    """
    between("temperature_c", temperature_c, LOWEST_C, HIGHEST_C, "°C")
    return DEGRADATION_PER_MINUTE * math.exp(-DEGRADATION_COEFFICIENT_K / _kelvin(temperature_c))


def relative_isomerization_rate(*, temperature_c: float) -> float:
    """Compare the isomerisation at a temperature with that of a boil at 100 °C.

    k1(T)/k1(100 °C) = exp(11858 (1/373.15 - 1/T)).

    Args:
        temperature_c: temperature of the wort; measured from 90 to 130. [°C] 60..130

    Returns:
        The rate relative to 100 °C, 1 at 100 °C. [-]

    Raises:
        OutOfRange: the temperature lies outside the range beside it.

    Source: Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439; the ratio is derived.

    >>> relative_isomerization_rate(temperature_c=95)
    0.649

    """
    between("temperature_c", temperature_c, LOWEST_C, HIGHEST_C, "°C")
    return math.exp(ISOMERIZATION_COEFFICIENT_K * (1 / _kelvin(100.0) - 1 / _kelvin(temperature_c)))


def is_extrapolated(*, temperature_c: float) -> bool:
    """Tell whether a temperature lies outside the 90 to 130 °C in which the rates were measured.

    Args:
        temperature_c: temperature of the wort. [°C] -20..150

    Returns:
        True when an answer for this temperature is an extrapolation. [-]

    Raises:
        OutOfRange: the temperature lies outside the range beside it.

    Source: Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439, range of the measurements.

    >>> is_extrapolated(temperature_c=85)
    True

    """
    between("temperature_c", temperature_c, -20, 150, "°C")
    return not MEASURED_FROM_C <= temperature_c <= MEASURED_TO_C


def iso_alpha_fraction(*, temperature_c: float, minutes: float) -> float:
    """Give the share of the alpha acids that is iso-alpha acid after a hold at one temperature.

    iso/alpha0 = k1/(k2 - k1) (exp(-k1 t) - exp(-k2 t)), written so that nearly equal rates lose no digit.
    The kettle's own losses (trub, yeast, foam) are not in it.

    Args:
        temperature_c: temperature of the hold; measured from 90 to 130. [°C] 60..130
        minutes: length of the hold. [min] 0..1440

    Returns:
        Iso-alpha acid as a fraction of the alpha acid added, by mass. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439; two first-order steps, solved.

    >>> iso_alpha_fraction(temperature_c=100, minutes=60)
    0.4759

    """
    between("minutes", minutes, 0, LONGEST_MINUTES, "min")
    forming = isomerization_rate_per_minute(temperature_c=temperature_c)
    losing = degradation_rate_per_minute(temperature_c=temperature_c)
    return iso_from_rates(forming_per_minute=forming, losing_per_minute=losing, minutes=minutes)


def alpha_left_fraction(*, temperature_c: float, minutes: float) -> float:
    """Give the share of the alpha acids that is still alpha acid after a hold.

    alpha/alpha0 = exp(-k1 t).

    Args:
        temperature_c: temperature of the hold; measured from 90 to 130. [°C] 60..130
        minutes: length of the hold. [min] 0..1440

    Returns:
        Alpha acid left as a fraction of the alpha acid added. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439.

    >>> alpha_left_fraction(temperature_c=100, minutes=60)
    0.4726

    """
    between("minutes", minutes, 0, LONGEST_MINUTES, "min")
    return math.exp(-isomerization_rate_per_minute(temperature_c=temperature_c) * minutes)


def iso_left_fraction(*, temperature_c: float, minutes: float) -> float:
    """Give the share of iso-alpha acids that outlives a hold when no alpha acid feeds them.

    iso/iso0 = exp(-k2 t). Over 20 % is gone after 90 minutes of boiling (Kappler et al. 2010).

    Args:
        temperature_c: temperature of the hold; measured from 90 to 130. [°C] 60..130
        minutes: length of the hold. [min] 0..1440

    Returns:
        Iso-alpha acid left as a fraction of what there was. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439.

    >>> iso_left_fraction(temperature_c=100, minutes=90)
    0.7574

    """
    between("minutes", minutes, 0, LONGEST_MINUTES, "min")
    return math.exp(-degradation_rate_per_minute(temperature_c=temperature_c) * minutes)


def time_of_maximum_minutes(*, temperature_c: float) -> float:
    """Give the length of hold that yields the most iso-alpha acid.

    t_max = ln(k1/k2)/(k1 - k2); afterwards more is lost than is formed.

    Args:
        temperature_c: temperature of the hold; measured from 90 to 130. [°C] 60..130

    Returns:
        The time of the largest yield; long beyond any boil below 100 °C. [min]

    Raises:
        OutOfRange: the temperature lies outside the range beside it.

    Source: Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439; derived.

    >>> time_of_maximum_minutes(temperature_c=100)
    148.6

    """
    forming = isomerization_rate_per_minute(temperature_c=temperature_c)
    losing = degradation_rate_per_minute(temperature_c=temperature_c)
    return math.log(forming / losing) / (forming - losing)


def alpha_half_life_minutes(*, temperature_c: float) -> float:
    """Give the time in which half of the alpha acids isomerise.

    t_half = ln 2 / k1.

    Args:
        temperature_c: temperature of the hold; measured from 90 to 130. [°C] 60..130

    Returns:
        The half-life of alpha acids. [min]

    Raises:
        OutOfRange: the temperature lies outside the range beside it.

    Source: Malowicki & Shellhammer 2005, J. Agric. Food Chem. 53:4434-4439; derived.

    >>> alpha_half_life_minutes(temperature_c=100)
    55.5

    """
    return math.log(2) / isomerization_rate_per_minute(temperature_c=temperature_c)


def iso_from_rates(*, forming_per_minute: float, losing_per_minute: float, minutes: float) -> float:
    """Solve the two first-order steps for given rates.

    k1 t exp(-k1 t) (1 - exp(-x))/x with x = (k2 - k1) t, which has no cancellation at x = 0.

    Args:
        forming_per_minute: rate k1 of alpha to iso-alpha. [1/min] 0..10
        losing_per_minute: rate k2 of iso-alpha to losses. [1/min] 0..10
        minutes: length of the hold. [min] 0..1440

    Returns:
        Iso-alpha acid as a fraction of the alpha acid added. [-]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: two linear differential equations; no empirical constant.

    >>> iso_from_rates(forming_per_minute=0.01, losing_per_minute=0.01, minutes=100)
    0.36788

    """
    between("forming_per_minute", forming_per_minute, 0, 10, "1/min")
    between("losing_per_minute", losing_per_minute, 0, 10, "1/min")
    between("minutes", minutes, 0, LONGEST_MINUTES, "min")
    slower, faster = sorted((forming_per_minute, losing_per_minute))
    gap = (faster - slower) * minutes
    mean_decay = -math.expm1(-gap) / gap if gap else 1.0
    return forming_per_minute * minutes * math.exp(-slower * minutes) * mean_decay


def _kelvin(temperature_c: float) -> float:
    return temperature_c + ZERO_CELSIUS_K
