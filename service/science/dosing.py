"""From a wanted bitterness back to hops: how much of a lot, how much of another lot instead, at what cost."""

from service.errors import OutOfRange
from service.science.bitterness import HIGHEST_IBU, LARGEST_G, LEAST_PERCENT, mass_g_for_ibu
from service.science.checks import between


def mass_g_for_share(
    *,
    total_ibu: float,
    share_percent: float,
    utilization_percent: float,
    alpha_percent: float,
    volume_l: float,
) -> float:
    """Give the mass of hops that carries a share of a beer's bitterness.

    The mass for IBU * share/100.

    Args:
        total_ibu: bitterness of the whole beer. [IBU] 0..1000
        share_percent: share of it that this addition shall give. [%] 0..100
        utilization_percent: share of the alpha acids that becomes bitterness. [%] 0.01..100
        alpha_percent: alpha acids in the hops as they are dosed. [%] 0.01..100
        volume_l: volume of beer. [L] 0.1..10000000

    Returns:
        The mass of hops. [g]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: G. Tinseth, hop utilisation article (mg/L formula), solved for the mass.

    >>> mass_g_for_share(total_ibu=69.2, share_percent=50, utilization_percent=23.06, alpha_percent=10,
    ...                  volume_l=20)
    30.0

    """
    between("total_ibu", total_ibu, 0, HIGHEST_IBU, "IBU")
    between("share_percent", share_percent, 0, 100, "%")
    return mass_g_for_ibu(
        wanted_ibu=total_ibu * share_percent / 100,
        utilization_percent=utilization_percent,
        alpha_percent=alpha_percent,
        volume_l=volume_l,
    )


def mass_g_at_equal_bitterness(*, mass_g: float, alpha_percent: float, other_alpha_percent: float) -> float:
    """Give the mass of another lot that bitters as much as a mass of this one.

    m2 = m1 alpha1/alpha2, for the same time and place in the kettle.

    Args:
        mass_g: mass of the hops to be replaced. [g] 0..10000000
        alpha_percent: their alpha acids. [%] 0..100
        other_alpha_percent: alpha acids of the hops that replace them. [%] 0.01..100

    Returns:
        The mass of the other hops; aroma is another question. [g]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: balance of alpha acids; no empirical constant.

    >>> mass_g_at_equal_bitterness(mass_g=100, alpha_percent=6.3, other_alpha_percent=13.5)
    46.67

    """
    between("mass_g", mass_g, 0, LARGEST_G, "g")
    between("alpha_percent", alpha_percent, 0, 100, "%")
    between("other_alpha_percent", other_alpha_percent, LEAST_PERCENT, 100, "%")
    return mass_g * alpha_percent / other_alpha_percent


def cost_per_10_ibu_hl(*, price_per_kg: float, utilization_percent: float, alpha_percent: float) -> float:
    """Give what ten IBU in a hectolitre cost by these hops.

    The mass for 10 IBU in 100 L, in kilograms, times the price.

    Args:
        price_per_kg: price of the hops. [currency/kg] 0..1000000
        utilization_percent: share of the alpha acids that becomes bitterness. [%] 0.01..100
        alpha_percent: alpha acids in the hops as they are dosed. [%] 0.01..100

    Returns:
        The cost, in the currency of the price. [currency per 10 IBU and hL]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: arithmetic; no empirical constant.

    >>> cost_per_10_ibu_hl(price_per_kg=20, utilization_percent=25, alpha_percent=10)
    0.8

    """
    between("price_per_kg", price_per_kg, 0, 1_000_000, "per kg")
    mass_g = mass_g_for_ibu(
        wanted_ibu=10, utilization_percent=utilization_percent, alpha_percent=alpha_percent, volume_l=100
    )
    return price_per_kg * mass_g / 1000


def missing_ibu(*, wanted_ibu: float, given_ibu: float) -> float:
    """Give the bitterness that an addition still has to bring.

    wanted - given; a beer that is bitter enough already is refused.

    Args:
        wanted_ibu: bitterness wanted of the whole beer. [IBU] 0..1000
        given_ibu: bitterness that the other additions give. [IBU] 0..1000

    Returns:
        What is missing. [IBU]

    Raises:
        OutOfRange: an argument lies outside the range beside it, or nothing is missing.

    Source: arithmetic; no empirical constant.

    >>> missing_ibu(wanted_ibu=35, given_ibu=12.5)
    22.5

    """
    between("wanted_ibu", wanted_ibu, 0, HIGHEST_IBU, "IBU")
    between("given_ibu", given_ibu, 0, HIGHEST_IBU, "IBU")
    if given_ibu > wanted_ibu:
        raise OutOfRange(
            f"the other additions give {given_ibu:g} IBU already, {wanted_ibu:g} IBU are wanted",
            name="given_ibu",
            value=given_ibu,
            low=0,
            high=wanted_ibu,
            unit="IBU",
        )
    return wanted_ibu - given_ibu
