"""What the enzymes of dry hops do to fermented beer: sugars from dextrins, then gas and alcohol."""

from service.science.checks import between

# Balling: 2.0665 g of extract give 1 g alcohol and 0.9565 g carbon dioxide.
EXTRACT_PER_ALCOHOL = 2.0665
CARBON_DIOXIDE_PER_ALCOHOL = 0.9565
# Grams of carbon dioxide in a litre of gas at 0 °C and 101325 Pa; grams of ethanol in a litre at 20 °C.
CARBON_DIOXIDE_G_PER_L = 1.9768
ETHANOL_G_PER_L = 789.0


def creep_carbon_dioxide_volumes(*, extract_drop_plato: float) -> float:
    """Give the carbon dioxide that a further drop of extract makes.

    CO2 = 10 dP/2.0665 * 0.9565/1.9768: Balling's balance, taking a litre of beer as a kilogram.

    Args:
        extract_drop_plato: drop of the real extract. [°P] 0..10

    Returns:
        Volumes of gas at 0 °C and standard pressure per volume of beer. [volumes]

    Raises:
        OutOfRange: the drop lies outside the range beside it.

    Source: Balling's balance; Kirkpatrick & Shellhammer 2018, doi 10.1021/acs.jafc.8b03563, report 4.75.

    >>> creep_carbon_dioxide_volumes(extract_drop_plato=2)
    4.68

    """
    between("extract_drop_plato", extract_drop_plato, 0, 10, "°P")
    alcohol_g_per_l = 10 * extract_drop_plato / EXTRACT_PER_ALCOHOL
    return alcohol_g_per_l * CARBON_DIOXIDE_PER_ALCOHOL / CARBON_DIOXIDE_G_PER_L


def creep_alcohol_percent(*, extract_drop_plato: float) -> float:
    """Give the alcohol that a further drop of extract makes.

    ABV = 100 * 10 dP/2.0665/789: Balling's balance, taking a litre of beer as a kilogram.

    Args:
        extract_drop_plato: drop of the real extract. [°P] 0..10

    Returns:
        Alcohol by volume that is added. [%]

    Raises:
        OutOfRange: the drop lies outside the range beside it.

    Source: Balling's balance; Kirkpatrick & Shellhammer 2018, doi 10.1021/acs.jafc.8b03563, report 1.3 %.

    >>> creep_alcohol_percent(extract_drop_plato=2)
    1.23

    """
    between("extract_drop_plato", extract_drop_plato, 0, 10, "°P")
    return 1000 * extract_drop_plato / EXTRACT_PER_ALCOHOL / ETHANOL_G_PER_L
