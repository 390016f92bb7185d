"""What is lost on the way from the kettle to the beer, apart from the reactions in the kettle.

The kinetic method multiplies three shares: the yield of iso-alpha acids in the kettle, the recovery from
kettle to wort (trub, hops) and the recovery from wort to beer (yeast, foam, filter).
"""

import math

from service.science.checks import between

# What was published at the extremes, to stand beside an estimate: trub and hops hold back 7 to 73 % (quoted,
# collected by J.-P. Hosom); fermentation takes 5 % (the same) and a whole cellar 33.7 % (Justus 2018). Extremes
# are no interval: how far an estimate may be off is a matter of its own.
KETTLE_TO_WORT_PERCENT_MIN = 27.0
KETTLE_TO_WORT_PERCENT_MAX = 93.0
WORT_TO_BEER_PERCENT_MIN = 66.3
WORT_TO_BEER_PERCENT_MAX = 95.0
# McMurrough found 57, 47, 45 and 43 % at 1.024, 1.040, 1.061 and 1.083 (quoted, collected by J.-P. Hosom):
# ln(57/43)/0.059.
FALL_PER_GRAVITY = 4.8


def kettle_to_wort_percent(*, gravity_sg: float, fall_per_gravity: float = FALL_PER_GRAVITY) -> float:
    """Estimate how much of the iso-alpha acids leaves the kettle with a wort of a gravity.

    100 exp(-fall (G - 1)): trub binds more the more extract there is, and water holds nothing back.

    Args:
        gravity_sg: gravity of the wort. [20/20 °C] 1..1.15
        fall_per_gravity: how steeply it falls; 4.8 from four published worts. [-] 0..20

    Returns:
        The share that leaves the kettle. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: McMurrough, quoted in J.-P. Hosom, collected literature values; the form of the curve is ours.

    >>> kettle_to_wort_percent(gravity_sg=1.050)
    78.66

    """
    between("gravity_sg", gravity_sg, 1.0, 1.15, "")
    between("fall_per_gravity", fall_per_gravity, 0, 20, "")
    return 100 * math.exp(-fall_per_gravity * (gravity_sg - 1))


def kinetic_utilization_percent(
    *, iso_fraction: float, kettle_to_wort_percent: float, wort_to_beer_percent: float
) -> float:
    """Give the utilization by the kinetic method.

    U = 100 * iso/alpha0 * recovery kettle to wort * recovery wort to beer; the yield comes from
    `service.science.kettle`. The published recoveries stand as constants of this module.

    Args:
        iso_fraction: iso-alpha acid at the end as a fraction of the alpha acid added. [-] 0..1
        kettle_to_wort_percent: share that leaves the kettle with the wort; published 27 to 93. [%] 0..100
        wort_to_beer_percent: share of that which is in the beer; published 66.3 to 95. [%] 0..100

    Returns:
        The utilization; iso-alpha acids in beer over alpha acids added. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: product of shares; recoveries Justus 2018, MBAA Technical Quarterly 55(3):67-74, and J.-P. Hosom.

    >>> kinetic_utilization_percent(iso_fraction=0.476, kettle_to_wort_percent=90, wort_to_beer_percent=66.3)
    28.40

    """
    between("iso_fraction", iso_fraction, 0, 1, "")
    between("kettle_to_wort_percent", kettle_to_wort_percent, 0, 100, "%")
    between("wort_to_beer_percent", wort_to_beer_percent, 0, 100, "%")
    return iso_fraction * kettle_to_wort_percent * wort_to_beer_percent / 100


def beer_share_percent(*, wort_share_percent: float, cellar_loss_percent: float) -> float:
    """Give the share of the alpha acids in beer from the share in wort.

    beer = wort (1 - loss/100).

    Args:
        wort_share_percent: share of the alpha acids found in wort. [%] 0..100
        cellar_loss_percent: what fermentation and cellar lose of it. [%] 0..100

    Returns:
        The share in beer. [%]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: Justus 2018, MBAA Technical Quarterly 55(3):67-74.

    >>> beer_share_percent(wort_share_percent=44.0, cellar_loss_percent=33.7)
    29.2

    """
    between("wort_share_percent", wort_share_percent, 0, 100, "%")
    between("cellar_loss_percent", cellar_loss_percent, 0, 100, "%")
    return wort_share_percent * (1 - cellar_loss_percent / 100)


def cold_wort_volume_l(*, beer_volume_l: float, wort_lost_percent: float) -> float:
    """Give the cold wort that a volume of finished beer comes from.

    V wort = V beer/(1 - lost/100): some wort stays with trub and yeast, and its bitterness with it.

    Args:
        beer_volume_l: volume of finished beer. [L] 0.1..10000000
        wort_lost_percent: share of the cold wort that does not become beer. [%] 0..90

    Returns:
        The volume of cold wort. [L]

    Raises:
        OutOfRange: an argument lies outside the range beside it.

    Source: balance of volume; no empirical constant.

    >>> cold_wort_volume_l(beer_volume_l=950, wort_lost_percent=5)
    1000.0

    """
    between("beer_volume_l", beer_volume_l, 0.1, 10_000_000, "L")
    between("wort_lost_percent", wort_lost_percent, 0, 90, "%")
    return beer_volume_l / (1 - wort_lost_percent / 100)
