"""How a small open vessel of wort cools by itself after the heat is turned off."""

import math

from service.science.checks import between

# J.-P. Hosom, Predicting wort temperature after flameout: fit to 33 measured runs of 3.9 to 31.2 L.
FLOOR_C = 46.40
SWING_C = 53.70
RATE_PER_AREA = 0.0002925
RATE_OFFSET_PER_MINUTE = 0.00538
SMALLEST_L = 3.9
LARGEST_L = 31.2


def cooling_rate_per_minute(
    *, volume_l: float, wort_area_cm2: float, opening_area_cm2: float, covered_percent: float = 0
) -> float:
    """Give the rate b at which wort in a small vessel nears the fit's floor.

    b = 0.0002925 sqrt(A_wort A_opening (1 - covered/100))/V + 0.00538.

    Args:
        volume_l: volume of wort; the fit knows no larger vessel. [L] 3.9..31.2
        wort_area_cm2: surface of the wort. [cm²] 100..5000
        opening_area_cm2: opening of the vessel. [cm²] 0..5000
        covered_percent: share of the opening under a lid. [%] 0..100

    Returns:
        The rate b. [1/min]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: J.-P. Hosom, Predicting wort temperature after flameout.

    >>> cooling_rate_per_minute(volume_l=7.8, wort_area_cm2=710.33, opening_area_cm2=710.33)
    0.0320

    """
    between("volume_l", volume_l, SMALLEST_L, LARGEST_L, "L")
    between("wort_area_cm2", wort_area_cm2, 100, 5000, "cm²")
    between("opening_area_cm2", opening_area_cm2, 0, 5000, "cm²")
    between("covered_percent", covered_percent, 0, 100, "%")
    open_area_cm2 = opening_area_cm2 * (1 - covered_percent / 100)
    return RATE_PER_AREA * math.sqrt(wort_area_cm2 * open_area_cm2) / volume_l + RATE_OFFSET_PER_MINUTE


def cooling_temperature_c(
    *,
    volume_l: float,
    wort_area_cm2: float,
    opening_area_cm2: float,
    minutes: float,
    covered_percent: float = 0,
) -> float:
    """Estimate the temperature of a small vessel's wort some time after the heat is off.

    T = 46.40 + 53.70 exp(-b t). Not for a commercial vessel, whose whirlpool stays nearly at one temperature:
    there the brewer gives temperature and time.

    Args:
        volume_l: volume of wort; the fit knows no larger vessel. [L] 3.9..31.2
        wort_area_cm2: surface of the wort. [cm²] 100..5000
        opening_area_cm2: opening of the vessel. [cm²] 0..5000
        minutes: time since the heat was turned off. [min] 0..60
        covered_percent: share of the opening under a lid. [%] 0..100

    Returns:
        The temperature; mean error of the fit 0.8, largest 1.9. [°C]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: J.-P. Hosom, Predicting wort temperature after flameout.

    >>> cooling_temperature_c(volume_l=7.8, wort_area_cm2=710.33, opening_area_cm2=710.33, minutes=15)
    79.6

    """
    between("minutes", minutes, 0, 60, "min")
    rate = cooling_rate_per_minute(
        volume_l=volume_l,
        wort_area_cm2=wort_area_cm2,
        opening_area_cm2=opening_area_cm2,
        covered_percent=covered_percent,
    )
    return FLOOR_C + SWING_C * math.exp(-rate * minutes)
