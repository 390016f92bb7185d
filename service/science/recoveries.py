"""What is lost on the way from the kettle to the beer, apart from the reactions in the kettle.

The kinetic method multiplies three shares: the yield of iso-alpha acids in the kettle, the recovery from
kettle to wort (trub, hops) and the recovery from wort to beer (yeast, foam, filter).
"""

from service.science.checks import between

# Justus 2018, MBAA Technical Quarterly 55(3):67-74: shares of the alpha acids found in wort, commercial
# volumes, by spectrophotometry; and what the cellar loses of it.
WORT_SHARE_BOIL_60_MINUTES_PERCENT = 44.0
WORT_SHARE_WHIRLPOOL_PERCENT = 29.9
WORT_SHARE_MASH_PERCENT = 9.1
WORT_SHARE_WET_HOP_PERCENT = 8.0
CELLAR_LOSS_PERCENT = 33.7

# Fermentation losses 5 to 20 % (quoted, collected by J.-P. Hosom): recovery from wort to beer without filter.
FERMENTATION_RECOVERY_PERCENT_MIN = 80.0
FERMENTATION_RECOVERY_PERCENT_MAX = 95.0
# The widest span of the figures above: Justus' cellar loss at one end, 5 % at the other.
WORT_TO_BEER_PERCENT_MIN = 66.3
WORT_TO_BEER_PERCENT_MAX = 95.0
# Filter of 0.5 to 3 um keeps back 5.8 to 1.5 % (quoted, collected by J.-P. Hosom).
FILTER_RECOVERY_PERCENT_MIN = 94.2
FILTER_RECOVERY_PERCENT_MAX = 98.5
# Trub and hops hold back 7 to 73 % (quoted, collected by J.-P. Hosom): too wide to give one value.
KETTLE_TO_WORT_PERCENT_MIN = 27.0
KETTLE_TO_WORT_PERCENT_MAX = 93.0

# About 30 % of the alpha acids reach the beer: Kappler 2011.
ALPHA_IN_BEER_PERCENT = 30.0


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
