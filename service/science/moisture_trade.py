"""Weights restated between moistures: what a contract pays for, and wet hops in place of dried ones."""

from service.science.checks import between
from service.science.moisture import LARGEST_MASS, WETTEST_PERCENT

LEAST_RATIO = 1.0
LARGEST_RATIO = 100.0


def contract_weight_kg(
    *, weight_kg: float, moisture_percent: float, contract_moisture_percent: float
) -> float:
    """Give the weight that the same dry matter would have at the moisture of the contract.

    W_contract = W (1 - M)/(1 - M_c).

    Args:
        weight_kg: the hops as weighed. [kg] 0..1e9
        moisture_percent: their moisture. [%] 0..99
        contract_moisture_percent: moisture that the contract names. [%] 0..99

    Returns:
        The weight to be paid. [kg]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: mass balance; no empirical constant.

    >>> contract_weight_kg(weight_kg=20, moisture_percent=12, contract_moisture_percent=10)
    19.5556

    """
    between("weight_kg", weight_kg, 0, LARGEST_MASS, "kg")
    between("moisture_percent", moisture_percent, 0, WETTEST_PERCENT, "%")
    between("contract_moisture_percent", contract_moisture_percent, 0, WETTEST_PERCENT, "%")
    return weight_kg * (100 - moisture_percent) / (100 - contract_moisture_percent)


def wet_for_dry_kg(*, dry_kg: float, dry_moisture_percent: float, wet_moisture_percent: float) -> float:
    """Give the wet hops that carry as much dry matter as dried ones; equal dry matter is not equal flavour.

    W_wet = W_dry (1 - M_dry)/(1 - M_wet).

    Args:
        dry_kg: dried hops to be replaced. [kg] 0..1e9
        dry_moisture_percent: their moisture. [%] 0..99
        wet_moisture_percent: moisture of the wet hops. [%] 0..99

    Returns:
        The wet hops. [kg]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: mass balance; no empirical constant.

    >>> wet_for_dry_kg(dry_kg=4.5, dry_moisture_percent=9, wet_moisture_percent=78)
    18.614

    """
    between("dry_kg", dry_kg, 0, LARGEST_MASS, "kg")
    between("dry_moisture_percent", dry_moisture_percent, 0, WETTEST_PERCENT, "%")
    between("wet_moisture_percent", wet_moisture_percent, 0, WETTEST_PERCENT, "%")
    return dry_kg * (100 - dry_moisture_percent) / (100 - wet_moisture_percent)


def implied_green_moisture_percent(*, ratio: float, dry_moisture_percent: float) -> float:
    """Give the moisture at picking that a wet-to-dry factor implies.

    M0 = 1 - (1 - Mt)/ratio. Factors of 4, 5 and 6 in common use hide 77.5 to 85 % of water.

    Args:
        ratio: wet weight over dried weight. [-] 1..100
        dry_moisture_percent: moisture of the dried hops. [%] 0..99

    Returns:
        The moisture at picking. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: mass balance; no empirical constant.

    >>> implied_green_moisture_percent(ratio=4, dry_moisture_percent=10)
    77.5

    """
    between("ratio", ratio, LEAST_RATIO, LARGEST_RATIO, "")
    between("dry_moisture_percent", dry_moisture_percent, 0, WETTEST_PERCENT, "%")
    return 100 - (100 - dry_moisture_percent) / ratio
